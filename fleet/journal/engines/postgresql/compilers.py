"""Django's compilers of SQL, of which those that write also write the journal."""

from __future__ import annotations

from django.db.backends.postgresql import compiler
from django.db.backends.postgresql.compiler import SQLAggregateCompiler, SQLCompiler

from fleet.journal import writing

__all__ = [
    "SQLAggregateCompiler",
    "SQLCompiler",
    "SQLDeleteCompiler",
    "SQLInsertCompiler",
    "SQLUpdateCompiler",
]


class SQLInsertCompiler(writing.Insert, compiler.SQLInsertCompiler):
    """Of INSERT."""


class SQLUpdateCompiler(writing.Update, compiler.SQLUpdateCompiler):
    """Of UPDATE."""


class SQLDeleteCompiler(writing.Delete, compiler.SQLDeleteCompiler):
    """Of DELETE."""
