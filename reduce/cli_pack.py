"""The command that makes the teaching pack."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", help="Folder for the pack; else 'pack' in the draft folder.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper of the pages.")
@click.option("--language", default="en", metavar="NAME", show_default=True, help="Language of the words: en or de.")
@click.option("--numerals", is_flag=True, help="Ask for Roman numerals too (from early-intermediate).")
@click.option("--replace", is_flag=True, help="Write over a pack that was edited by hand.")
def pack(folder: Path, out: Path | None, replace: bool, **wishes: Any) -> None:
    """Make the printed set for pupil and teacher from a draft folder.

    Worksheet with answers apart, practice steps, hard spots, warm-ups, listening task, duet part: as PDF for each reader and as
    MusicXML.  Of drafts that are played together: the same for each level, and a score of all for the teacher.
    """
    from reduce import class_set, packing
    from reduce.report import check_folder, write_folder

    target = out or folder / packing.PACK
    check_folder(target, replace=replace)
    make = class_set.pack if class_set.is_class(folder) else packing.pack
    files = make(folder, packing.Wishes(**wishes))
    write_folder(target, files, replace=replace)
    for name in files:
        if name.endswith(".pdf"):
            click.echo(str(target / name))
