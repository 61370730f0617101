"""Whether the tests notice when a module is broken: a fixed sample of cosmic-ray's mutants.

`python -m tests.tools.mutation_check session.sqlite blendkit/skin/limits.py tests/skin`
works on a clone that it makes beside the session. A session that is there already is taken up
again: its survivors are tried anew, in the clone, against the tests that are named then.
"""

import argparse
import ast
import random
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

# `==` and `is` tell the same of None, and a cache changes how long something takes, not what
SAME = ("ReplaceComparisonOperator_Is_Eq", "ReplaceComparisonOperator_IsNot_NotEq")
CACHES = ("cache", "lru_cache")
SEED = 1


def run(command, folder, **more):
    """Run a command in a folder; a failure ends the check."""
    return subprocess.run(command, cwd=folder, check=True, text=True, **more)


def without_effect(source):
    """Lines and columns of annotations, which are never evaluated here, and of caches."""
    spans = []
    for node in ast.walk(ast.parse(source)):
        parts = [getattr(node, "annotation", None), getattr(node, "returns", None)]
        for decorator in getattr(node, "decorator_list", ()):
            called = decorator.func if isinstance(decorator, ast.Call) else decorator
            parts += [decorator] if getattr(called, "id", None) in CACHES else []
        spans += [
            ((p.lineno, p.col_offset - 1), (p.end_lineno, p.end_col_offset)) for p in parts if p
        ]
    return spans


def choose(database, source, most):
    """Leave `most` mutants to be tried; how many there are, and how many could show."""
    from cosmic_ray.work_item import WorkerOutcome, WorkResult

    spans = without_effect(source)
    items = sorted(
        (item.mutations[0].start_pos, item.mutations[0].operator_name,
         item.mutations[0].occurrence, item.job_id)
        for item in database.work_items
    )  # fmt: skip
    shows = [
        job
        for start, operator, _, job in items
        if not operator.endswith(SAME) and not any(a <= start < b for a, b in spans)
    ]
    chosen = set(random.Random(SEED).sample(shows, min(most, len(shows))))
    left = [job for *_, job in items if job not in chosen]
    database.set_multiple_results(left, WorkResult(WorkerOutcome.SKIPPED))
    return len(items), len(shows)


def begin(session, module, tests, most):
    """Clone, see the tests pass on it, and write the session; its configuration."""
    from cosmic_ray.work_db import WorkDB, use_db

    clone = session.with_suffix(".clone")
    if not clone.exists():
        run(["git", "clone", "--quiet", Path.cwd(), clone], Path.cwd())
    # CI makes Hypothesis draw the same examples each time and keep none
    command = ["env", "CI=true", sys.executable, "-m", "pytest", "-x", "-q"]
    command += ["-p", "no:cacheprovider", *tests]
    started = time.monotonic()
    run(command, clone, stdout=subprocess.DEVNULL)
    seconds = 3 * (time.monotonic() - started) + 5
    configuration = session.with_suffix(".toml").resolve()
    configuration.write_text(
        f'[cosmic-ray]\nmodule-path = "{module}"\ntimeout = {seconds:.1f}\n'
        f'test-command = "{" ".join(command)}"\nexcluded-modules = []\n'
        '[cosmic-ray.distributor]\nname = "local"\n',
        encoding="utf-8",
    )
    if not session.exists():
        run(["cosmic-ray", "init", configuration, session.resolve()], clone)
        with use_db(session, WorkDB.Mode.open) as database:
            counted = choose(database, (clone / module).read_text(encoding="utf-8"), most)
        print("mutants in all: {}, that can show: {}".format(*counted))  # noqa: T201
    return clone, configuration


def forget_survivors(database):
    """Make every mutant that survived pending again."""
    from cosmic_ray.work_db import WorkResultStorage
    from cosmic_ray.work_item import TestOutcome

    with database._session_maker.begin() as rows:
        stored = rows.query(WorkResultStorage)
        stored.filter(WorkResultStorage.test_outcome == TestOutcome.SURVIVED).delete()


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("session", type=Path)
    asked.add_argument("module")
    asked.add_argument("tests", nargs="+")
    asked.add_argument("--most", type=int, default=60)
    given = asked.parse_args()
    from cosmic_ray.work_db import WorkDB, use_db

    clone, configuration = begin(given.session, given.module, given.tests, given.most)
    with use_db(given.session, WorkDB.Mode.open) as database:
        forget_survivors(database)
    run(["cosmic-ray", "exec", configuration, given.session.resolve()], clone)
    with use_db(given.session, WorkDB.Mode.open) as database:
        tried = [(i, r) for i, r in database.completed_work_items if r.test_outcome]
    for item, result in tried:
        if result.test_outcome.value == "survived":
            print(item.mutations[0].operator_name, result.diff, sep="\n")  # noqa: T201
    print(dict(Counter(result.test_outcome.value for _, result in tried)))  # noqa: T201


if __name__ == "__main__":
    main()
