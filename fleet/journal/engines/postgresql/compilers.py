"""Django's compilers of SQL, of which those that write also write the journal.

While many facts are recorded together they know newcomers, of which nothing is on record yet.
"""

from __future__ import annotations

from django.db.backends.postgresql import compiler
from django.db.backends.postgresql.compiler import SQLAggregateCompiler

from fleet import newcomers, questions
from fleet.journal import writing

__all__ = [
    "SQLAggregateCompiler",
    "SQLCompiler",
    "SQLDeleteCompiler",
    "SQLInsertCompiler",
    "SQLUpdateCompiler",
]


class SQLCompiler(newcomers.Select, questions.Worded, compiler.SQLCompiler):
    """Of SELECT."""


class SQLInsertCompiler(newcomers.Insert, writing.Insert, compiler.SQLInsertCompiler):
    """Of INSERT."""


class SQLUpdateCompiler(newcomers.Update, writing.Update, compiler.SQLUpdateCompiler):
    """Of UPDATE."""


class SQLDeleteCompiler(writing.Delete, compiler.SQLDeleteCompiler):
    """Of DELETE."""
