"""Runs a command on a terminal of its own, types lines when it asks, and prints what the terminal showed.

Usage: type-at-terminal.py LINE LINE -- COMMAND ARGS; ends with the exit code of the command.
"""
import os
import pty
import sys

cut = sys.argv.index("--")
lines, command = sys.argv[1:cut], sys.argv[cut + 1 :]
pid, terminal = pty.fork()
if pid == 0:
    os.execvp(command[0], command)
shown, asked = b"", 0
while True:
    try:
        piece = os.read(terminal, 4096)
    except OSError:  # Linux says so when the other end is closed.
        break
    if not piece:
        break
    shown += piece
    # Every question ends with a colon; one line for each.
    while asked < len(lines) and shown.count(b": ") > asked:
        os.write(terminal, lines[asked].encode() + b"\r")
        asked += 1
sys.stdout.write(shown.decode())
sys.exit(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]))
