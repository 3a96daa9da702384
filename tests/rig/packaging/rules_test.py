#!/usr/bin/env python3
"""Says what is wrong with a file of udev rules, by the grammar of udev(7) (systemd 252): rules_test.py FILE."""

import re
import sys
from pathlib import Path

# udev(7): which keys may be compared, and which assigned.
COMPARED = {"ACTION", "DEVPATH", "KERNEL", "KERNELS", "NAME", "SYMLINK", "SUBSYSTEM", "SUBSYSTEMS", "DRIVER", "DRIVERS", "ATTR",
            "ATTRS", "SYSCTL", "ENV", "CONST", "TAG", "TAGS", "TEST", "PROGRAM", "RESULT"}
ASSIGNED = {"NAME", "SYMLINK", "OWNER", "GROUP", "MODE", "SECLABEL", "ATTR", "SYSCTL", "ENV", "TAG", "RUN", "LABEL", "GOTO",
            "IMPORT", "OPTIONS"}
TOKEN = re.compile(r'([A-Z]+)(?:\{([^}]+)\})?(==|!=|\+=|-=|:=|=)"((?:[^"\\]|\\.)*)"')


def wrong_in_rule(rule):
    rest, tags = rule, False
    while rest:
        token = TOKEN.match(rest)
        if not token:
            yield f"cannot be read from here: {rest}"
            return
        key, _, operator, value = token.groups()
        if operator in ("==", "!="):
            if key not in COMPARED:
                yield f"{key} cannot be compared"
        elif key not in ASSIGNED:
            yield f"{key} cannot be assigned"
        tags = tags or (key == "TAG" and value == "uaccess")
        rest = rest[token.end():].lstrip(" ")
        if rest:
            if not rest.startswith(","):
                yield f"there is no comma before: {rest}"
            rest = rest.lstrip(", ")
    # What gives access must say which device it means, or everybody at the desk may open everything.
    if tags and not ("idVendor" in rule and "idProduct" in rule):
        yield "it gives access to more than one kind of device"


def wrong_in(file):
    rules = [line for line in file.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    labels = set(re.findall(r'LABEL="([^"]+)"', "\n".join(rules)))
    for rule in rules:
        yield from wrong_in_rule(rule)
        for target in re.findall(r'GOTO="([^"]+)"', rule):
            if target not in labels:
                yield f"there is no label {target}"
    if not any('TAG+="uaccess"' in rule for rule in rules):
        yield "it gives access to nothing"
    # systemd's 73-seat-late.rules is what reads the tag.
    if not re.match(r"\d\d-", file.name) or int(file.name[:2]) >= 73:
        yield "it is read too late for the tag uaccess"


if __name__ == "__main__":
    found = list(wrong_in(Path(sys.argv[1])))
    print("\n".join(found), end="\n" if found else "")
    sys.exit(1 if found else 0)
