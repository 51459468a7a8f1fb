#!/usr/bin/env python3
"""Second verifier of a certificate: python3 verify.py FILE.pdf POLICY.txt

Written from the description in internal/certificate/README.md and from the
public formats (RFC 6962, RFC 8032, RFC 8785, C2SP signed-note, tlog-checkpoint,
tlog-proof), sharing no line with the program. It needs Python 3 and nothing
else, no network either.

It answers one question: are logbook, assessment and record in this file those
that the site's log holds, and do the entries lead to the head that both people
signed? It does not look at the page, at the site's signature over the file, at
witnesses, at withdrawals: the program's own `verify` does.

Exit status: 0 they are, 1 something does not fit, 2 unreadable or another log's.
"""
import base64
import hashlib
import json
import re
import sys
import zlib

MOST_FILE, MOST_UNPACKED = 20 << 20, 32 << 20


class Unfit(Exception):
    """A check that fails."""


class NotTheirs(Exception):
    """Unreadable, or vouched for by nobody whom the policy names."""


def sha256(*parts):
    return hashlib.sha256(b"".join(parts)).digest()


# Ed25519, verification only (RFC 8032 section 5.1.7). Slow and plain.
P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
ROOT = pow(2, (P - 1) // 4, P)


def add(a, b):
    (x1, y1, z1, t1), (x2, y2, z2, t2) = a, b
    e, f = (y1 - x1) * (y2 - x2) % P, (y1 + x1) * (y2 + x2) % P
    g, h = 2 * t1 * t2 * D % P, 2 * z1 * z2 % P
    e, f, g, h = f - e, h - g, h + g, f + e
    return e * f % P, g * h % P, f * g % P, e * h % P


def times(n, point):
    out = (0, 1, 1, 0)
    while n:
        if n & 1:
            out = add(out, point)
        point, n = add(point, point), n >> 1
    return out


def unpack_point(raw):
    y = int.from_bytes(raw, "little")
    sign, y = y >> 255, y & (1 << 255) - 1
    if y >= P:
        raise Unfit("a point that is not on the curve")
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * ROOT % P
    if (x * x - square) % P or (x == 0 and sign):
        raise Unfit("a point that is not on the curve")
    if x & 1 != sign:
        x = P - x
    return x, y, 1, x * y % P


BASE = unpack_point((4 * pow(5, P - 2, P) % P).to_bytes(32, "little"))


def ed25519(public, message, signature):
    if len(public) != 32 or len(signature) != 64:
        return False
    s = int.from_bytes(signature[32:], "little")
    if s >= L:
        return False
    k = int.from_bytes(hashlib.sha512(signature[:32] + public + message).digest(), "little") % L
    left, right = times(s, BASE), add(unpack_point(signature[:32]), times(k, unpack_point(public)))
    return (left[0] * right[2] - right[0] * left[2]) % P == 0 and (left[1] * right[2] - right[1] * left[2]) % P == 0


def attachments(pdf):
    """The files inside, by name. Names are UTF-16, brackets escaped."""
    found = {}
    for m in re.finditer(rb"<< /Type /Filespec /F \(\) /UF \((.*?)\) /EF << /F (\d{1,4}) 0 R >>", pdf, re.S):
        name = re.sub(rb"\\(.)", rb"\1", m[1], flags=re.S).decode("utf-16")
        start = re.findall(rb"\n%s 0 obj\n<< /Type /EmbeddedFile /Length (\d{1,8}) [^\n]*\n\nstream\n" % m[2], pdf)
        place = pdf.find(b"\n%s 0 obj\n<< /Type /EmbeddedFile" % m[2])
        if len(start) != 1 or name in found:
            raise NotTheirs("the attachments are not laid out as described")
        begin = pdf.index(b"\nstream\n", place) + len(b"\nstream\n")
        inflate = zlib.decompressobj()
        found[name] = inflate.decompress(pdf[begin:begin + int(start[0])], MOST_UNPACKED)
        if not inflate.eof:
            raise NotTheirs(f"{name} does not end")
    if set(found) != {"logbook.json", "assessment.json", "record.json", "proof.tlog-proof"}:
        raise NotTheirs(f"the attachments are {sorted(found)}")
    return found


def canonical(value):
    """RFC 8785, for what stands in our JSON: text, whole numbers, ASCII keys."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def log_keys(policy):
    """Ed25519 keys of the lines `log NAME+HASH+BASE64`, by (name, hash)."""
    keys = {}
    for line in policy.splitlines():
        words = line.split()
        if words[:1] == ["log"]:
            name, short, key = words[1].split("+", 2)
            raw = base64.b64decode(key, validate=True)
            if raw[0] != 1 or sha256(name.encode(), b"\n", raw)[:4].hex() != short:
                raise NotTheirs(f"the key of {name} in the policy is damaged")
            keys[name, bytes.fromhex(short)] = raw[1:]
    return keys


def checkpoint(note, keys):
    """Size and root of a signed checkpoint (C2SP signed-note, tlog-checkpoint)."""
    text, _, signatures = note.partition("\n\n")
    origin, size, root = (text + "\n").split("\n")[:3]
    for line in signatures.splitlines():
        dash, name, encoded = line.split(" ")
        raw = base64.b64decode(encoded, validate=True)
        key = keys.get((name, raw[:4]))
        if dash == "\u2014" and key is not None and name == origin:
            if not ed25519(key, (text + "\n").encode(), raw[4:]):
                raise Unfit("the log's signature under the checkpoint is forged")
            return int(size), base64.b64decode(root, validate=True)
    raise NotTheirs("no log that the policy names signed the checkpoint")


def included(leaf, index, size, path, root):
    """RFC 9162 section 2.1.3.2."""
    if index >= size:
        return False
    fn, sn, r = index, size - 1, sha256(b"\x00", leaf)
    for p in path:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            r = sha256(b"\x01", p, r)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            r = sha256(b"\x01", r, p)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and r == root


def chain(record, logbook):
    """The head that the entries of the logbook lead to."""
    opening, run = json.loads(record["opening"]), logbook["run"]
    if opening["run"] != run["id"] or any(opening["unit"][k] != v for k, v in run["unit"].items()):
        raise Unfit("the logbook is not about the run that was opened")
    if not sha256(record["procedure"].encode()).hex() == record["text"] == opening["procedure"]["sha256"]:
        raise Unfit("the procedure is not the one that the run was opened on")
    head = sha256(b"run-open/1\x00", record["opening"].encode())
    entries, start = logbook["entries"], 0
    for last in record["posts"]:
        bodies = [{k: v for k, v in e.items() if k not in ("seq", "received_at")} for e in entries[start:last]]
        head = sha256(b"run-chain/1\x00", head, last.to_bytes(4, "big"), sha256(canonical(bodies)))
        start = last
    if start != len(entries) or [e["seq"] for e in entries] != list(range(1, start + 1)):
        raise Unfit("the posts do not part the logbook")
    return head.hex()


def verify(pdf, policy):
    if len(pdf) > MOST_FILE:
        raise NotTheirs("larger than a certificate can be")
    files = attachments(pdf)
    head, _, note = files["proof.tlog-proof"].decode().partition("\n\n")
    lines = head.split("\n")
    if lines[0] != "c2sp.org/tlog-proof@v1" or not lines[1].startswith("index "):
        raise NotTheirs("the proof is none")
    size, root = checkpoint(note, log_keys(policy))
    record = json.loads(files["record.json"])
    held = {a["name"]: a["text"].encode() for a in record["attached"]}
    if held != {n: files[n] for n in ("logbook.json", "assessment.json")}:
        raise Unfit("logbook or assessment differ from what the record holds")
    leaf = canonical({"t": "certificate/1", "number": record["number"], "digest": sha256(files["record.json"]).hex()})
    path = [base64.b64decode(h, validate=True) for h in lines[2:]]
    if not included(leaf, int(lines[1][6:]), size, path, root):
        raise Unfit("the record is not in the log of that checkpoint")
    signed = record["signatures"]
    if chain(record["record"], json.loads(files["logbook.json"])) != record["record"]["head"] or signed[1]["head"] != record["record"]["head"]:
        raise Unfit("the entries do not lead to the head that was signed")
    return f"{record['number']}, {record['unit']}: leaf {lines[1][6:]} of {size}, {len(record['record']['posts'])} posts"


def main(args):
    if len(args) != 2:
        print(__doc__.splitlines()[0], file=sys.stderr)
        return 2
    try:
        with open(args[0], "rb") as pdf, open(args[1], encoding="utf-8") as policy:
            print("in the log:", verify(pdf.read(MOST_FILE + 1), policy.read()))
        return 0
    except Unfit as why:
        print("does not fit:", why)
        return 1
    except (NotTheirs, OSError, ValueError, KeyError, IndexError, TypeError, zlib.error) as why:
        print("not readable, or not theirs:", why)
        return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
