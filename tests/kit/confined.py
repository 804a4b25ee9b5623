#!/usr/bin/python3
"""What the unit forbids, tried: confined.py OUT writes a line "can ..." or "cannot ..." for each try. Run by the service as a
gardener's command it says what a command may do; run by root outside of it, it shows that each try can succeed. Nothing that it
tries changes anything where it succeeds: values are written back as they are, or the call is given what no kernel takes."""

import ctypes
import mmap
import os
import socket
import stat
import subprocess
import sys

libc = ctypes.CDLL(None, use_errno=True)
EPERM = 1


def call(name, *words):
    """A call of the C library: an error other than "not permitted" means that it was let through to look at its words."""
    result = getattr(libc, name)(*words)
    if result == -1 and ctypes.get_errno() == EPERM:
        raise PermissionError(name)


def aside(work):
    """In a process of its own, for what changes the process."""
    child = os.fork()
    if child == 0:
        try:
            work()
        except Exception:
            os._exit(1)
        os._exit(0)
    if os.waitpid(child, 0)[1] != 0:
        raise PermissionError


def make(path):
    with open(path, "x", encoding="ascii"):
        pass
    os.remove(path)


def rewrite(path):
    with open(path, "r+", encoding="ascii") as file:
        text = file.read()
        file.seek(0)
        file.write(text)


def read(path):
    with open(path, "rb") as file:
        file.read(1)


def open_family(family, kind):
    socket.socket(family, kind).close()


def suid(path):
    with open(path, "x", encoding="ascii"):
        pass
    try:
        os.chmod(path, 0o4755)
        if not os.stat(path).st_mode & stat.S_ISUID:
            raise PermissionError
    finally:
        os.remove(path)


def device(path):
    os.mknod(path, 0o600 | stat.S_IFCHR, os.makedev(1, 3))
    os.remove(path)


def cgroup():
    os.mkdir("/sys/fs/cgroup/probe")
    os.rmdir("/sys/fs/cgroup/probe")


def executable_memory():
    mmap.mmap(-1, 4096, prot=mmap.PROT_READ | mmap.PROT_WRITE | mmap.PROT_EXEC).close()


class Timex(ctypes.Structure):
    _fields_ = [("modes", ctypes.c_uint), ("rest", ctypes.c_long * 40)]


def clock():
    call("adjtimex", ctypes.byref(Timex(modes=0x4000)))  # a tick of 0, which no kernel takes


def status(name):
    with open("/proc/self/status", encoding="ascii") as file:
        return next(line.split()[1] for line in file if line.startswith(name + ":"))


def unless(refused):
    if refused:
        raise PermissionError


def others_users():
    """With users of its own it knows none but itself and root."""
    with open("/proc/self/uid_map", encoding="ascii") as file:
        unless(sum(int(line.split()[2]) for line in file) < 1000)


def become_root():
    """By a program that is set-uid root, which the test put there: a copy of id(1)."""
    said = subprocess.run(["/usr/local/bin/become-root", "-u"], stdout=subprocess.PIPE, check=True)
    unless(said.stdout != b"0\n")


MODULE = {"x86_64": 313, "aarch64": 273}[os.uname().machine]  # finit_module(2)
home = os.path.dirname(sys.argv[1])  # the state folder

WORKS = {
    "write its state": lambda: make(os.path.join(home, "mine")),
    "write /tmp": lambda: make("/tmp/mine"),
    "read the plan": lambda: read("/etc/dewbell/tarn-hollow/garden.ini"),
    "open a socket": lambda: open_family(socket.AF_INET6, socket.SOCK_STREAM),
    "run a program": lambda: aside(lambda: os.execv("/bin/true", ["true"])),
}
REFUSED = {
    "write /etc": lambda: make("/etc/probe"),
    "write /var": lambda: make("/var/probe"),
    "write /srv": lambda: make("/srv/probe"),
    "write another's state": lambda: make("/var/lib/probe"),
    "see /home": lambda: os.stat(os.path.join("/home", "maren", "diary")),
    "see /root": lambda: os.stat(os.path.join("/root", "diary")),
    "see others' /tmp": lambda: os.stat("/tmp/mark"),
    "see others' /var/tmp": lambda: os.stat("/var/tmp/mark"),
    "see the secrets' folder": lambda: read("/etc/dewbell.secrets/post-password"),
    "see others' processes": lambda: os.stat("/proc/1/stat"),
    "see the machine in /proc": lambda: os.stat("/proc/meminfo"),
    "open another device": lambda: read("/dev/beans"),
    "make a device": lambda: device(os.path.join(home, "device")),
    "change the kernel's settings": lambda: rewrite("/proc/sys/net/ipv4/ip_forward"),
    "change cgroups": cgroup,
    "load a module": lambda: call("syscall", MODULE, -1, b"", 0),
    "read the kernel's log": lambda: call("klogctl", 10, None, 0),
    "set the clock": clock,
    "set the host's name": lambda: socket.sethostname(socket.gethostname()),
    "mount": lambda: call("mount", b"none", b"/nowhere", b"tmpfs", 0, None),
    "change the root": lambda: call("chroot", b"/nowhere"),
    "swap": lambda: call("swapon", b"/nowhere", 0),
    "make a namespace": lambda: aside(lambda: call("unshare", 0x10000000)),
    "make a set-uid file": lambda: suid(os.path.join(home, "suid")),
    "become root": become_root,
    "be another user": lambda: aside(lambda: call("setuid", 12345)),
    "be urgent": lambda: aside(lambda: os.setpriority(os.PRIO_PROCESS, 0, -5)),
    "run in real time": lambda: call("sched_setscheduler", 0, 1, ctypes.byref(ctypes.c_int(0))),  # 0 is no priority for it
    "open a packet socket": lambda: open_family(socket.AF_PACKET, socket.SOCK_RAW),
    "open a netlink socket": lambda: open_family(socket.AF_NETLINK, socket.SOCK_RAW),
    "write what it runs": executable_memory,
    "change its personality": lambda: aside(lambda: call("personality", 0x0040000)),
    "trace": lambda: aside(lambda: call("ptrace", 0, 0, 0, 0)),
    "know other users": others_users,
    "have a capability": lambda: unless(int(status("CapBnd"), 16) == 0),
    "gain privileges": lambda: unless(status("NoNewPrivs") == "1"),
    "call all of the kernel": lambda: unless(status("Seccomp") == "2"),
}


def main():
    sys.stdin.read()  # the morning
    lines = []
    for name, work in {**WORKS, **REFUSED}.items():
        try:
            work()
            lines.append(f"can {name}\n")
        except OSError:
            lines.append(f"cannot {name}\n")
    lines.append(f"uid {os.getuid()}\n")
    with open(sys.argv[1] + ".new", "w", encoding="ascii") as file:
        file.writelines(lines)
    os.rename(sys.argv[1] + ".new", sys.argv[1])


main()
