"""A hunt for inputs that break a door, guided by the lines they reach; no part of the tests.

    pip install atheris
    python -m tests.tools.coverage_fuzz blend FOLDER -max_total_time=600

The doors are `blend`, `analysis` and `export`. New inputs go to the folder, on top of those in
`tests/corpus`. What breaks is written to the working folder as `crash-...`; its name in place
of the folder runs it again. What begins with `-` is libFuzzer's.
"""

import contextlib
import io
import json
import random
import sys
import zipfile
from functools import partial
from pathlib import Path
from tempfile import mkdtemp

CORPUS, FOLDER = Path(__file__).parents[1] / "corpus", Path(mkdtemp())
ODD = (None, -1, 0.5, 1e300, "", "3 mL", [], {}, "rose-otto", True)


def blend(fuzzing, raw):
    try:
        document = json.loads(raw)
    except (ValueError, RecursionError):
        return
    fuzzing.blend_door(document, fade=len(raw) % 50 == 0)


def analysis(fuzzing, raw):
    (FOLDER / "analysis.csv").write_bytes(raw)
    fuzzing.analysis_door(FOLDER / "analysis.csv")


def export(fuzzing, raw, journals=[]):  # noqa: B006 - one journal takes all refusals
    journal = journals.pop() if journals else fuzzing.open_journal(Path(mkdtemp(dir=FOLDER)))
    file = journal.path.with_name("export.zip")
    file.write_bytes(raw)
    if fuzzing.export_door(journal, file):
        journal.close()
    else:
        journals.append(journal)


def in_a_document(fuzzing, fuzzer, raw, most, seed):
    """Half of the time another value in another place, since bytes seldom stay JSON."""
    with contextlib.suppress(ValueError, RecursionError):
        if seed % 2:
            odd = random.Random(seed).choice(ODD)
            return json.dumps(fuzzing.spoilt(json.loads(raw), seed, odd)).encode()
    return fuzzer.Mutate(raw, most)


def in_a_zip(fuzzing, fuzzer, raw, most, seed):
    """Mostly inside one of its files, since a checksum hides all else."""
    out = io.BytesIO()
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as files:
            contents = {name: files.read(name) for name in files.namelist()}
        name = random.Random(seed).choice([*contents, "the zip itself"])
        contents[name] = fuzzer.Mutate(contents[name], len(contents[name]) + 64)
    except Exception:
        return fuzzer.Mutate(raw, most)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as files:
        for name, content in contents.items():
            files.writestr(name, content)
    return out.getvalue()


def main(door, *more):
    try:
        import atheris
    except ImportError:
        sys.exit("This needs the fuzzer: pip install atheris. The tests run without it.")
    with atheris.instrument_imports(include=["blendkit"]):
        from tests.tools import fuzzing
    way = {"blend": in_a_document, "export": in_a_zip}.get(door)
    more_of_it = {"custom_mutator": partial(way, fuzzing, atheris)} if way else {}
    seeds = [] if any(Path(name).is_file() for name in more) else [str(CORPUS / door)]
    knock = partial({"blend": blend, "analysis": analysis, "export": export}[door], fuzzing)
    atheris.Setup([door, *more, *seeds, "-max_len=20000"], knock, **more_of_it)
    atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])
