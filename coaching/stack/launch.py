"""Becomes another command that does not outlive its parent: `python launch.py --parent PID ... -- COMMAND`.

Why a launcher and not code between fork and exec in the parent: Python warns that code run there can deadlock a parent
that has threads, and the tests' process has. This file is run by its path, without the project or its packages, so it
starts in a few hundredths of a second and has nothing to deadlock on.

On Linux the kernel does it: PR_SET_PDEATHSIG sends the chosen signal when the parent dies, SIGKILL included. The
kernel clears that wish whenever the process changes its user, so the user is changed first; and it fires when the
parent's *thread* dies, so whoever starts a launcher does it from its main thread. Elsewhere the launcher stays and
watches: it looks at its parent's id twice a second, and ends the command when that changes.
"""

import argparse
import ctypes
import os
import signal
import subprocess
import sys
import time

PR_SET_PDEATHSIG = 1
WATCH_SECONDS = 0.5
GRACE_SECONDS = 10.0


def become_user(uid: int, gid: int) -> None:
    """Give up every right but those of one user; a no-op for a user who is not root."""
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(gid)
        os.setuid(uid)


def ask_kernel(signal_number: int) -> None:
    """Have the kernel send `signal_number` to this process, across exec, when its parent dies. OSError on refusal."""
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(PR_SET_PDEATHSIG, signal_number, 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "prctl(PR_SET_PDEATHSIG)")


def watch(command: list[str], parent: int, signal_number: int) -> int:
    """Run the command as a child, pass signals on, and end it when the parent is gone; returns its exit code."""
    early: list[int] = []
    pass_on = early.append  # a signal that comes before there is a child waits for it
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGQUIT, signal.SIGHUP):
        signal.signal(number, lambda came, _frame: pass_on(came))
    child = subprocess.Popen(command)
    pass_on = child.send_signal
    for came in early:
        child.send_signal(came)
    while child.poll() is None:
        if os.getppid() != parent:
            child.send_signal(signal_number)
            try:
                child.wait(GRACE_SECONDS)
            except subprocess.TimeoutExpired:
                child.kill()
        time.sleep(WATCH_SECONDS)
    return child.returncode if child.returncode >= 0 else 128 - child.returncode


def main(arguments: list[str]) -> int:
    """Parse, drop rights, tie to the parent, become the command."""
    parser = argparse.ArgumentParser(description="Run a command that does not outlive its parent.")
    parser.add_argument("--parent", type=int, required=True, help="process id of the parent to follow")
    parser.add_argument("--signal", type=int, default=signal.SIGTERM, help="what to send when it is gone")
    parser.add_argument("--uid", type=int)
    parser.add_argument("--gid", type=int)
    parser.add_argument("--watch", action="store_true", help="stay and watch, as on systems other than Linux")
    parser.add_argument("command", nargs="+")
    options = parser.parse_args(arguments)
    if options.uid is not None:
        become_user(options.uid, options.gid)
    if options.watch or not sys.platform.startswith("linux"):
        return watch(options.command, options.parent, options.signal)
    ask_kernel(options.signal)
    if os.getppid() == options.parent:  # otherwise it died before the kernel had been asked
        os.execvp(options.command[0], options.command)
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
