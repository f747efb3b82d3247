"""Runs of a problem on a test cluster (a head without workers and two nodes of one worker) whose nodes are killed.

python -m tests.faults.nodes PROBLEM FOLDER KILLS: prints {"kills": n, "runs": [folders]} as its last line.
"""

import json
import logging
import random
import sys
from concurrent.futures import ThreadPoolExecutor, wait
from pathlib import Path
from typing import Any

from ray.cluster_utils import Cluster

from synth.app.running import run_problem


def main(problem: Path, folder: Path, kills: int) -> None:
    logging.getLogger("ray").setLevel(logging.CRITICAL)
    cluster: Any = Cluster(initialize_head=True, head_node_args={"num_cpus": 0, "include_dashboard": False})
    nodes: list[Any] = [cluster.add_node(num_cpus=1), cluster.add_node(num_cpus=1)]
    chance, hits, runs = random.Random(31), 0, list[str]()
    with ThreadPoolExecutor(1) as aside:  # nodes can be started by the main thread alone
        try:
            while hits < kills:
                out = folder / f"run-{len(runs)}"
                run = aside.submit(run_problem, problem, out, None, None, None, cluster.address)
                while not wait([run], timeout=chance.uniform(1.0, 4.0)).done:
                    if hits < kills:
                        cluster.remove_node(nodes.pop(chance.randrange(2)), allow_graceful=False)
                        hits += 1
                        nodes.append(cluster.add_node(num_cpus=1))
                run.result()
                runs.append(str(out))
        finally:
            cluster.shutdown()
    print(json.dumps({"kills": hits, "runs": runs}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
