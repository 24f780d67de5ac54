"""A million designs on engines that exist: a cluster's scheduler with workers, and the pods of an indexed job.

python tests/long/million_designs.py --designs 1000000 --work FOLDER

Invented shops, each another, lie in shards of NDJSON. Every shard is checked by a real scheduler with two worker
processes, one of which is killed half-way and another one joins; and by the script of `deploy/kubernetes/many-designs`,
as the pod of its index runs it, one pod killed half-way and started again. All is well where both give the same
digest for every shard and each design is answered once, in order. Given again, it goes on after the shards that are
done. Last figures: README.md.
"""

import argparse
import hashlib
import json
import resource
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "bench"))

import msgspec
import sixteen_runs
import yaml

import pods
from clustering import Cluster, kill
from commanding import COMMAND, HOME

JOB = Path(__file__).resolve().parents[2] / "deploy" / "kubernetes" / "many-designs" / "job.yaml"
PROGRESS = 0.2  # s between two looks at how far a shard is


def made(folder: Path, shards: int, each: int) -> list[Path]:
    """Write the shards that are not there yet; return them all."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / f"shard-{shard:04}.ndjson" for shard in range(shards)]
    for shard, path in enumerate(paths):
        if not path.exists():
            seeds = range(shard * each, (shard + 1) * each)
            part = path.with_suffix(".part")
            part.write_bytes(b"".join(msgspec.json.encode(sixteen_runs.shop(seed)) + b"\n" for seed in seeds))
            part.rename(path)
    return paths


def half_way(process: subprocess.Popen, answers: Path, each: int) -> None:
    """Wait until half of a shard is answered."""
    while not answers.exists() or answers.read_bytes().count(b"\n") < each // 2:
        assert process.poll() is None, "it ended before it was half-way"
        time.sleep(PROGRESS)


def digest(answers: Path, each: int) -> tuple[str, Counter]:
    """Return a shard's digest and its outcomes, after a look that each design is answered once, in order."""
    told, outcomes = hashlib.sha256(), Counter()
    with answers.open("rb") as file:
        for number, line in enumerate(file, 1):
            told.update(line)
            entry = json.loads(line)
            assert entry["id"].rpartition(":")[2] == str(number), f"{answers}: line {number} is of {entry['id']}"
            outcomes[entry["answer"]["told"]["outcome"] if entry["status"] == 200 else str(entry["status"])] += 1
    assert number == each, f"{answers}: {number} answers of {each} designs"
    return told.hexdigest(), outcomes


def by_cluster(cluster: Cluster, shard: Path, answers: Path, each: int, *, lose: bool) -> None:
    """Check a shard by the cluster; `lose`: kill a worker half-way, and let another one join."""
    parts = pods.environment(yaml.safe_load(JOB.read_text()), 0)["PARTS"].split()
    words = ["check", str(shard), "--on", cluster.address, "--into", str(answers), *parts, "--print", "json"]
    process = subprocess.Popen([*COMMAND, *words], env=HOME, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    if lose:
        half_way(process, answers, each)
        kill(cluster.workers[0])
        cluster.add()
    _, said = process.communicate()
    assert process.returncode <= 2, said.decode()


def by_job(work: Path, index: int, answers: Path, each: int, *, lose: bool) -> None:
    """Run the pod of an index; `lose`: kill it half-way, and start it again as the job does."""
    job = yaml.safe_load(JOB.read_text())
    text = pods.script(job, work)
    if lose:
        process = pods.start(job, text, index, stderr=subprocess.DEVNULL)
        half_way(process, answers, each)
        kill(process)
    done = pods.run(job, text, index)
    assert done.returncode == 0, done.stderr


def spent() -> float:
    """Return the seconds of the processors that children took which have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Check every shard by both, compare, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--designs", type=int, default=1_000_000)
    parser.add_argument("--shards", type=int, default=50)
    parser.add_argument("--work", type=Path, required=True, help="folder that keeps what was done")
    asked = parser.parse_args()
    each, work = asked.designs // asked.shards, asked.work.resolve()
    kept = work / "done.json"
    work.mkdir(parents=True, exist_ok=True)
    done = json.loads(kept.read_text()) if kept.exists() else {"cluster": {}, "job": {}, "outcomes": {}, "seconds": {}}
    shards = made(work / "designs", asked.shards, each)

    def keep(way: str, index: int, answers: Path, began: tuple[float, float]) -> None:
        done[way][str(index)], outcomes = digest(answers, each)
        done["outcomes"][way] = dict(Counter(done["outcomes"].get(way, {})) + outcomes)
        clock, processors = done["seconds"].get(way, [0.0, 0.0])
        done["seconds"][way] = [clock + time.monotonic() - began[0], processors + spent() - began[1]]
        kept.write_text(json.dumps(done))
        answers.unlink()

    with Cluster(work) as cluster:
        began_with = spent()
        for index, shard in enumerate(shards):
            if str(index) not in done["cluster"]:
                answers = work / f"by-cluster-{index:04}.ndjson"
                began = time.monotonic(), spent()
                by_cluster(cluster, shard, answers, each, lose=index == asked.shards // 2)
                keep("cluster", index, answers, began)
    if "cluster" in done["seconds"]:
        done["seconds"]["cluster"][1] += spent() - began_with  # the workers, which end only now
    for index in range(asked.shards):
        if str(index) not in done["job"]:
            answers = work / "answers" / f"answers-{index:04}.ndjson"
            began = time.monotonic(), spent()
            by_job(work, index, answers, each, lose=index == asked.shards // 2)
            keep("job", index, answers, began)
    report(done, asked.shards * each, asked.shards)


def report(done: dict, designs: int, shards: int) -> None:
    """Print what came of it; end with status 1 where the two ways differ."""
    differ = [index for index in done["job"] if done["job"][index] != done["cluster"].get(index)]
    for way in ("cluster", "job"):
        clock, processors = done["seconds"][way]
        print(
            f"{way}: {sum(done['outcomes'][way].values())} of {designs} answered, {clock:.0f} s by the clock, "
            f"{processors:.0f} s of the processors, {1e3 * processors / designs:.2f} ms a design, "
            f"{designs / clock:.0f} designs a second; {done['outcomes'][way]}"
        )
    one, other = (done["seconds"][way][1] for way in ("job", "cluster"))
    print(f"the cluster's processors did in {other:.0f} s what a job's did in {one:.0f} s: {one / other:.2f}")
    print(f"{shards} shards, {len(differ)} of another digest: {differ}")
    sys.exit(bool(differ) or len(done["job"]) != shards or len(done["cluster"]) != shards)


if __name__ == "__main__":
    main()
