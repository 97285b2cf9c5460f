"""What became of a report."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, kw_only=True)
class Saved:
    """Files written, and what could not be written with the reason."""

    html: Path
    pdf: Path | None
    slides: Path | None
    pictures: tuple[Path, ...]
    tables: tuple[Path, ...]
    left_out: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        return {
            "html": str(self.html),
            "pdf": None if self.pdf is None else str(self.pdf),
            "slides": None if self.slides is None else str(self.slides),
            "pictures": [str(p) for p in self.pictures],
            "tables": [str(p) for p in self.tables],
            "left_out": list(self.left_out),
        }
