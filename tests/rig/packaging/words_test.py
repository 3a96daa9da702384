#!/usr/bin/env python3
"""Holds the manual page and the completion against what `cvrig --help` says, both ways.

words_test.py CVRIG MANUAL-PAGE COMPLETION EXPECTATIONS: prints what is missing where, and ends with 1 if anything is.
"""

import re
import subprocess
import sys


def output_of(*command):
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}: {done.stderr}")
    return done.stdout


def section(text, heading):
    """The indented lines under a heading of the help."""
    found = re.search(rf"^{heading}:\n((?:  .*\n|\n(?=  ))*)", text, re.MULTILINE)
    return found.group(1) if found else ""


def words_of_help(cvrig, path=()):
    """Which options each command has, by its path: () is cvrig itself, ("baseline", "list") is one below another."""
    text = output_of(cvrig, *path, "--help") + "\n"
    options = set(re.findall(r"^  (?:-\w,)?(--[\w-]+)", section(text, "Options"), re.MULTILINE))
    below = re.findall(r"^  ([\w-]+)", section(text, "Subcommands"), re.MULTILINE)
    words = {path: options}
    for name in below:
        words |= words_of_help(cvrig, (*path, name))
    return words


def variables_of_help(cvrig, paths):
    return {v for path in paths for v in re.findall(r"\(Env:(\w+)\)", output_of(cvrig, *path, "--help"))}


def words_of_page(page):
    """The same from the manual page; of a subsection's title, plain words before the first font change are the path."""
    words, path, in_subcommands, is_tag = {(): set()}, (), False, False
    for line in page.splitlines():
        if line.startswith(".SH"):
            in_subcommands, path = "SUBCOMMANDS" in line, () if "OPTIONS" in line else None
        elif line.startswith(".SS") and in_subcommands:
            title = line[3:].strip().strip('"').split("\\")[0].split("|")[0]
            path = tuple(title.split())
            words[path] = set()
        elif is_tag and path is not None:
            words[path] |= set(re.findall(r"(--[\w-]+)", line.replace("\\-", "-")))
        is_tag = line.startswith((".TP", ".TQ"))
    return words


def words_of_completion(completion, paths):
    """What a real bash offers after each path and a hyphen, and which words it offers for commands."""
    ask = ('source "$1"; shift; last=$1; shift; COMP_WORDS=(cvrig "$@" "$last"); COMP_CWORD=$(($# + 1)); _cvrig; '
           'printf "%s\\n" "${COMPREPLY[@]}"')

    def offered(path, word):
        return {w for w in output_of("bash", "--norc", "-c", ask, "bash", completion, word, *path).split("\n") if w}

    return ({path: {w for w in offered(path, "--") if w.startswith("--")} for path in paths},
            {path: offered(path, "") for path in paths})


def checks_offered(completion):
    ask = 'source "$1"; printf "%s\\n" "${_cvrig_checks[@]}"'
    return set(output_of("bash", "--norc", "-c", ask, "bash", completion).splitlines())


def checks_of_file(expectations):
    with open(expectations, encoding="utf-8") as file:
        body = file.read().split("\nchecks:\n")[1]
    return set(re.findall(r"^  (\w[\w ]*):", body, re.MULTILINE))


def complaints(help_words, other, where):
    for path in sorted(set(help_words) | set(other)):
        name = " ".join(("cvrig", *path))
        if path not in other:
            yield f"{where} does not have `{name}`"
        elif path not in help_words:
            yield f"{where} has `{name}`, but this cvrig does not"
        else:
            for option in sorted(help_words[path] - other[path] - {"--help"}):
                yield f"{where} does not have {option} of `{name}`"
            for option in sorted(other[path] - help_words[path] - {"--help"}):
                yield f"{where} has {option} for `{name}`, but this cvrig does not"


def main(cvrig, page_file, completion, expectations):
    help_words = words_of_help(cvrig)
    with open(page_file, encoding="utf-8") as file:
        page = file.read()
    found = list(complaints(help_words, words_of_page(page), "the manual page"))
    parents = {path[:-1] for path in help_words if path}
    # A command with others below it stands in the page through them alone, if it has no option of its own.
    found = [f for f in found if f not in {f"the manual page does not have `{' '.join(('cvrig', *p))}`" for p in parents}]
    options, names = words_of_completion(completion, help_words)
    found += complaints(help_words, options, "the completion")
    for parent in parents:
        below = {path[-1] for path in help_words if path and path[:-1] == parent}
        found += [f"the completion does not offer `{w}` after `{' '.join(('cvrig', *parent))}`" for w in sorted(below - names[parent])]
        found += [f"the completion offers `{w}` after `{' '.join(('cvrig', *parent))}`, but there is no such thing"
                  for w in sorted(names[parent] - below)]
    environment = page.split(".SH ENVIRONMENT")[1].split(".SH")[0]
    found += [f"the manual page does not tell the variable {v}" for v in sorted(variables_of_help(cvrig, help_words))
              if not re.search(rf"\b{v}\b", environment)]
    offered, known = checks_offered(completion), checks_of_file(expectations)
    found += [f"the completion does not have the check {c}" for c in sorted(known - offered)]
    for check in sorted(offered):
        output_of(cvrig, "explain", check)
    if len(help_words) < 10 or len(known) < 10:
        found.append("hardly anything was read; the help, the page or the expectation file looks different now")
    print("\n".join(found) or f"{len(help_words)} commands, {sum(map(len, help_words.values()))} options: all in page and completion")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
