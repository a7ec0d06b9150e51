#!/usr/bin/python3
"""alarm.py PROGRAM SHIM WORK: how long it takes from the frame that decides to the first byte of the
hook's program, with a disk that works and with one that does not answer at all (the shim holds every
call that touches it). The promise is 100 ms, whatever the disk does; that the order holds is a test
(tests/verbs/test_tend_disk.c), this is the figure."""
import json
import os
import shutil
import statistics
import subprocess
import sys
import time

program, shim, work = (os.path.abspath(p) for p in sys.argv[1:4])
ROUNDS = 10
shutil.rmtree(work, ignore_errors=True)
os.makedirs(work + "/disk")
log = work + "/trip.log"
subprocess.run([program, "drill", "--fault", "impeller", "--at", "+03:00", "--minutes", "5", "--seed", "3",
                "-o", log], check=True)
events = subprocess.run([program, "sift", "--json", log], capture_output=True, text=True, check=True).stdout
decided = next(e["time"] for e in map(json.loads, events.splitlines()) if e["event"] == "raised")
lines = open(log, encoding="ascii").readlines()
split = next(i for i, line in enumerate(lines) if float(line[1:line.index(")")]) >= decided)
fifo = work + "/hooked"
os.mkfifo(fifo)
with open(work + "/hook.conf", "w", encoding="ascii") as f:
    f.write(f'[hook note]\nrun = /bin/sh -c "echo x > {fifo}"\nwhen = raised\npriority = warning\n')


def once(held):
    shutil.rmtree(work + "/disk")
    os.makedirs(work + "/disk")
    env = dict(os.environ)
    if held:
        env.update(LD_PRELOAD=shim, SHIM_HOLD=work + "/disk", SHIM_GATE=work + "/gate")
    with open(work + "/disk/out", "w", encoding="ascii") as out:
        tend = subprocess.Popen([program, "tend", "--config", work + "/hook.conf", "--record", work + "/disk/rec",
                                 "--state", work + "/disk/state", "--metrics", work + "/disk/m.prom", "-"],
                                stdin=subprocess.PIPE, stdout=out, env=env)
    tend.stdin.writelines(line.encode() for line in lines[:split])
    tend.stdin.flush()
    time.sleep(2.5)  # all of it taken, and a disk that is held given up waiting for
    began = time.monotonic()
    tend.stdin.write("".join(lines[split:split + 40]).encode())
    tend.stdin.flush()
    with open(fifo, encoding="ascii") as f:
        f.read(1)
    took = (time.monotonic() - began) * 1000
    open(work + "/gate", "w", encoding="ascii").close()
    tend.stdin.close()
    tend.wait()
    os.remove(work + "/gate")
    return took


for what, held in (("a disk that works", False), ("a disk that does not answer", True)):
    times = [once(held) for _ in range(ROUNDS)]
    print(f"frame to hook, {what}: median {statistics.median(times):.1f} ms, worst {max(times):.1f} ms of {ROUNDS}")
