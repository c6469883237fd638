"""Times two kernels through one client, in turn: start to first result, round trip of `1 + 1`, resident memory.

Arguments: names of kernelspecs. Prints JSON: for each name its milliseconds and megabytes.
"""
import json
import os
import statistics
import sys
import time

from jupyter_client.manager import KernelManager

ROUNDS, TRIPS = 4, 50


def trip(client):
    """Milliseconds from sending a cell until its reply is there and the kernel is idle again."""
    start = time.perf_counter()
    request = client.execute("1 + 1")
    while client.get_shell_msg(timeout=60)["parent_header"].get("msg_id") != request:
        pass
    while True:
        message = client.get_iopub_msg(timeout=60)
        is_ours = message["parent_header"].get("msg_id") == request
        if is_ours and message["content"].get("execution_state") == "idle":
            return 1000 * (time.perf_counter() - start)


def memory(pid):
    """Resident megabytes of a process and all it has started."""
    with open(f"/proc/{pid}/status") as file:
        own = next((int(line.split()[1]) for line in file if line.startswith("VmRSS")), 0) / 1024
    with open(f"/proc/{pid}/task/{pid}/children") as file:
        children = file.read().split()
    return own + sum(memory(child) for child in children)


kernels, starts = {}, {}
for name in sys.argv[1:]:
    begin = time.perf_counter()
    manager = KernelManager(kernel_name=name)
    manager.start_kernel(stderr=open(os.devnull, "w"))
    client = manager.client()
    client.start_channels()
    client.wait_for_ready(timeout=60)
    trip(client)
    starts[name] = 1000 * (time.perf_counter() - begin)
    kernels[name] = (manager, client, [])
    for _ in range(20):  # both are warm before they are timed
        trip(client)
for _ in range(ROUNDS):
    for name, (manager, client, times) in kernels.items():
        times.extend(trip(client) for _ in range(TRIPS))
results = {}
for name, (manager, client, times) in kernels.items():
    pid = manager.provisioner.process.pid
    results[name] = {"start": starts[name], "trip": statistics.median(times), "memory": memory(pid)}
    client.stop_channels()
    manager.shutdown_kernel(now=True)
print(json.dumps(results))
