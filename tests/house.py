"""What the house looks like: files, lines of code, imports in a circle, public items nobody names.

Run: python3 tests/house.py [FOLDER OF ANOTHER CHECKOUT]. Comments, empty lines and the tests in a file are not counted. An item is
taken as used where its name stands, so one of a common name may be missed.
"""

import collections
import re
import sys
from pathlib import Path

HOUSE = Path(sys.argv[1] if sys.argv[1:] else Path(__file__).parent.parent).resolve()
CRATES = {
    "protocol": "protocol/src", "firmware": "firmware/src", "simulated": "firmware/simulated/src",
    "terms": "host/terms/src", "metrology": "host/metrology/src", "wording": "host/wording/src",
    "gauge": "host/gauge/src", "screen": "host/screen/src", "photo": "host/photo/src", "book": "host/book/src",
    "report": "host/report/src", "program": "host/src",
}
WORD = re.compile(r"\b[A-Za-z_]\w*\b")


def code(path):
    """The product code of a file: without comments, texts, and the tests at its end."""
    text = path.read_text(encoding="utf-8")
    text = re.split(r"#\[cfg\(test\)\]\s*(?:pub\(crate\) )?mod tests? ", text)[0]
    text = re.sub(r'"(?:\\.|[^"\\])*"', '""', re.sub(r"'(?:\\.|[^'\\])'", "' '", text), flags=re.S)
    return re.sub(r"(?m)//.*$", "", text)


def sources(folder):
    for path in sorted((HOUSE / folder).rglob("*.rs")):
        if path.name != "tests.rs" and "tests" not in path.relative_to(HOUSE / folder).parts[:-1]:
            yield path


def module(path, folder):
    """Where a file stands below its crate."""
    parts = list(path.relative_to(HOUSE / folder).with_suffix("").parts)
    return tuple(parts[:-1] if parts[-1] in ("mod", "lib", "main") else parts)


def flat(tree):
    """`a::{b, c::{d}}` as a::b and a::c::d."""
    tree = re.sub(r"\s+", " ", tree).strip()
    head, brace, rest = tree.partition("{")
    if not brace:
        yield [part for part in tree.split(" as ")[0].split("::") if part]
        return
    depth, start, inner = 0, 0, rest[: rest.rindex("}")]
    for at, sign in enumerate(inner + ","):
        depth += (sign == "{") - (sign == "}")
        if sign == "," and depth == 0:
            if inner[start:at].strip():
                for path in flat(inner[start:at]):
                    yield [part for part in head.split("::") if part.strip()] + path
            start = at + 1


def imports(folder):
    """Which file of a crate names which other file; a name handed on by a folder counts as the file's it comes from."""
    files = {module(path, folder): path for path in sources(folder)}
    texts = {where: code(path) for where, path in files.items()}
    handed = {}
    for where, text in texts.items():
        for tree in re.findall(r"\bpub(?:\([^)]*\))? use ([^;]+);", text):
            for path in flat(tree):
                start = absolute(path, where)
                if start:
                    handed[where + (path[-1],)] = start
    edges = collections.defaultdict(set)
    for where, text in texts.items():
        named = [path for tree in re.findall(r"\buse ([^;]+);", text) for path in flat(tree)]
        named += [path.split("::") for path in re.findall(r"\b(?:crate|super|self)(?:::\w+)+", text)]
        for path in named:
            target = absolute(path, where, files)
            for _ in range(4):
                target = handed.get(target, target)
            while target and target not in files:
                target = target[:-1]
            if target and target != where:
                edges[where].add(target)
    return files, edges


def absolute(path, where, files=()):
    if path[0] == "crate":
        return tuple(path[1:])
    at = where
    if path[0] not in ("self", "super"):
        return where + tuple(path) if where + (path[0],) in files or not files else None
    while path and path[0] in ("self", "super"):
        at = at[:-1] if path[0] == "super" else at
        path = path[1:]
    return at + tuple(path)


def circles(edges):
    """Strongly connected files, after Tarjan."""
    index, low, stack, found = {}, {}, [], []

    def visit(node):
        index[node] = low[node] = len(index)
        stack.append(node)
        for other in edges.get(node, ()):
            if other not in index:
                visit(other)
                low[node] = min(low[node], low[other])
            elif other in stack:
                low[node] = min(low[node], index[other])
        if low[node] == index[node]:
            circle = []
            while not circle or circle[-1] != node:
                circle.append(stack.pop())
            if len(circle) > 1:
                found.append(sorted(circle))

    for node in list(edges):
        if node not in index:
            visit(node)
    return sorted(found, key=len, reverse=True)


def public(text):
    """The names a file offers to other crates."""
    return re.findall(r"\bpub (?:const )?(?:fn|struct|enum|const|static|trait|type) (\w+)", text)


def named_by_nobody(everything):
    """Public items whose name stands nowhere but where it is defined or handed on."""
    text = "\n".join(everything.values())
    count = collections.Counter(WORD.findall(text))
    defined = collections.Counter(re.findall(r"\b(?:fn|struct|enum|const|static|trait|type)\s+(\w+)", text))
    for tree in re.findall(r"\bpub(?:\([^)]*\))? use ([^;]+);", text):
        count.subtract(WORD.findall(tree))
    for path, text in everything.items():
        for name in public(text):
            if count[name] <= defined[name]:
                yield path, name


def main():
    crates = {crate: imports(folder) for crate, folder in CRATES.items() if (HOUSE / folder).is_dir()}
    texts = {crate: {path: code(path) for path in files.values()} for crate, (files, _) in crates.items()}
    outside = [path for folder in ("tests", "firmware", "host", "protocol") for path in (HOUSE / folder).rglob("*.rs")]
    whole = {path: path.read_text(encoding="utf-8") for path in outside if "target" not in path.parts}
    print("| crate | files | lines of code | fullest folder | public, named by no other crate | imports in a circle |")
    print("|---|---:|---:|---|---:|---|")
    for crate, (files, edges) in crates.items():
        lines = sum(bool(line.strip()) for text in texts[crate].values() for line in text.splitlines())
        folder, most = collections.Counter(path.parent for path in files.values()).most_common(1)[0]
        own = HOUSE / CRATES[crate]
        elsewhere = set(WORD.findall("\n".join(text for path, text in whole.items() if own not in path.parents)))
        inside = sum(name not in elsewhere for text in texts[crate].values() for name in public(text))
        found = circles(edges)
        sizes = ", ".join(f"{n} of {size}" for size, n in sorted(collections.Counter(map(len, found)).items()))
        large = "; ".join(" ".join("/".join(one) or "lib" for one in circle) for circle in found if len(circle) > 3)
        told = f"{sizes or 'none'}{': ' * bool(large)}{large}"
        print(f"| {crate} | {len(files)} | {lines} | {most} in {folder.relative_to(HOUSE)} | {inside} | {told} |")
    everything = {path: text for all_of in texts.values() for path, text in all_of.items()}
    boards = [path for path in whole if HOUSE / "firmware/boards" in path.parents]
    everything |= {path: code(path) for path in boards}
    print("\nPublic, and named by no product code:")
    for path, name in named_by_nobody(everything):
        print(f"  {path.relative_to(HOUSE)} {name}")


main()
