"""Lines of the log as JSON, for programs that gather logs."""

from __future__ import annotations

import json
import logging
from datetime import UTC, datetime


class JsonLines(logging.Formatter):
    """A line of the log as one JSON object."""

    def format(self, record: logging.LogRecord) -> str:
        told = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(),
            "level": record.levelname,
            "logger": record.name,
            "message": record.getMessage(),
            "process": record.process,
        }
        if record.exc_info:
            told["trouble"] = self.formatException(record.exc_info)
        return json.dumps(told, ensure_ascii=False)
