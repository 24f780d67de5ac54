"""Whether a new document still serves the callers of an old one.

What a caller may send may only widen; what a caller may get may only gain fields and keep its types and ranges.
"""

import itertools

NAMING = {"title", "description", "examples", "example", "x-default", "x-kind", "x-range-si", "deprecated"}
"""Words that bind nobody; `x-default` and the kinds are compared on their own."""

WIDENS_UP = {"maximum", "exclusiveMaximum", "maxLength", "maxItems", "maxProperties"}
WIDENS_DOWN = {"minimum", "exclusiveMinimum", "minLength", "minItems", "minProperties"}
STRUCTURE = {
    "$ref", "type", "enum", "const", "anyOf", "oneOf", "items", "properties", "required", "additionalProperties",
    "discriminator", "pattern", "format", "contentMediaType", "propertyNames", "x-extensible",
}  # fmt: skip


def breaking(old, new):
    """Return a line for each change that can break a caller of the old document."""
    return list(_Comparison(old, new).all())


class _Comparison:
    def __init__(self, old, new):
        self.old, self.new = old, new
        self.seen = set()

    def all(self):
        for path, methods in self.old["paths"].items():
            for method, operation in methods.items():
                where = f"{method.upper()} {path}"
                other = self.new["paths"].get(path, {}).get(method)
                if other is None:
                    yield f"{where}: removed"
                else:
                    yield from self.operation(where, operation, other)
        for name in ("x-problems", "x-findings"):
            yield from self.words(name)

    def words(self, name):
        for word, said in self.old.get(name, {}).items():
            other = self.new.get(name, {}).get(word)
            if other is None:
                yield f"{name} {word}: removed"
            elif said != other:
                yield f"{name} {word}: says something else"

    def operation(self, where, old, new):
        if old.get("operationId") != new.get("operationId"):
            yield f"{where}: another operationId"
        yield from self.parameters(where, old.get("parameters", ()), new.get("parameters", ()))
        if "requestBody" in old or "requestBody" in new:
            yield from self.contents(f"{where} request", old.get("requestBody", {}), new.get("requestBody", {}), True)
        for status, answer in old["responses"].items():
            if status not in new["responses"]:
                yield f"{where}: answer {status} removed"
                continue
            yield from self.contents(
                f"{where} {status}",
                self.resolve(self.old, answer),
                self.resolve(self.new, new["responses"][status]),
                False,
            )

    def parameters(self, where, old, new):
        before = {(item["in"], item["name"]): item for item in old}
        after = {(item["in"], item["name"]): item for item in new}
        for key, item in before.items():
            if key not in after:
                yield f"{where}: parameter {key[1]} removed"
                continue
            if after[key].get("required") and not item.get("required"):
                yield f"{where}: parameter {key[1]} became required"
            yield from self.schema(f"{where} {key[1]}", item["schema"], after[key]["schema"], True)
        for key, item in after.items():
            if key not in before and item.get("required"):
                yield f"{where}: new required parameter {key[1]}"

    def contents(self, where, old, new, asked):
        if asked and new.get("required") and not old.get("required"):
            yield f"{where}: a body became required"
        for name in old.get("headers", ()):
            if name not in new.get("headers", ()):
                yield f"{where}: header {name} removed"
        for media_type, content in old.get("content", {}).items():
            if media_type not in new.get("content", {}):
                yield f"{where}: {media_type} removed"
                continue
            other = new["content"][media_type]
            yield from self.schema(where, content.get("schema", {}), other.get("schema", {}), asked)

    def resolve(self, document, node):
        while "$ref" in node:
            place = document
            for step in node["$ref"].removeprefix("#/").split("/"):
                place = place[step]
            node = place | {key: item for key, item in node.items() if key != "$ref"}
        return node

    def schema(self, where, old, new, asked):
        pair = (old.get("$ref"), new.get("$ref"), asked)
        if all(pair[:2]):
            if pair in self.seen:
                return
            self.seen.add(pair)
        old, new = self.resolve(self.old, old), self.resolve(self.new, new)
        if old.get("x-extensible") and new.get("x-extensible"):
            # Any word passes; what is known of them may change.
            yield from self.schema(where, old["anyOf"][-1], new["anyOf"][-1], asked)
            return
        for word in (set(old) | set(new)) - NAMING - STRUCTURE - WIDENS_UP - WIDENS_DOWN:
            yield f"{where}: `{word}` is a word that this comparison does not know"
        yield from self.bounds(where, old, new, asked)
        yield from self.plain(where, old, new, asked)
        yield from self.variants(where, old, new, asked)
        yield from self.fields(where, old, new, asked)
        if "propertyNames" in old or "propertyNames" in new:
            yield from self.schema(f"{where}.*", old.get("propertyNames", {}), new.get("propertyNames", {}), asked)
        if "items" in old:
            yield from self.schema(f"{where}[]", old["items"], new.get("items", {}), asked)

    def bounds(self, where, old, new, asked):
        for words, sign in ((WIDENS_UP, 1), (WIDENS_DOWN, -1)):
            for word in words:
                before = old.get(word, sign * float("inf"))
                after = new.get(word, sign * float("inf"))
                wider = sign * (after - before) if after != before else 0
                if wider and (wider < 0) == asked:
                    yield f"{where}: {word} {before} became {after}"

    def plain(self, where, old, new, asked):
        for word in ("type", "pattern", "format", "x-kind", "x-range-si", "contentMediaType", "discriminator"):
            left, right = old.get(word), new.get(word)
            if word == "discriminator" and left and right:
                left, right = left["propertyName"], right["propertyName"]
            if word == "x-range-si" and left and right:
                if asked and (right[0] > left[0] or right[1] < left[1]):
                    yield f"{where}: range {left} became {right}"
            elif left != right and not (asked and right is None and word in ("pattern", "type") and "anyOf" not in new):
                yield f"{where}: {word} {left} became {right}"
        if old.get("x-default") != new.get("x-default") and asked:
            yield f"{where}: default {old.get('x-default')} became {new.get('x-default')}"
        before, after = _words(old), _words(new)
        if (before != after and before is not None) or (after is not None and before is None):
            lost = set(before or ()) - set(after or ()) if asked else set(after or ()) - set(before or ())
            if lost or (after is None) != (before is None):
                yield f"{where}: words {sorted(before or ())} became {sorted(after or ())}"

    def variants(self, where, old, new, asked):
        before, after = old.get("anyOf", old.get("oneOf")), new.get("anyOf", new.get("oneOf"))
        if before is None and after is None:
            return
        left, right = before or [old], after or [new]
        small, large = (left, right) if asked else (right, left)
        for variant in small:
            if not any(self.fits(*((variant, other) if asked else (other, variant)), asked) for other in large):
                yield f"{where}: variant {_short(variant)} {'removed' if asked else 'added'}"
        for variant, other in itertools.product(left, right):
            if "$ref" in variant and variant.get("$ref") == other.get("$ref"):
                yield from self.schema(f"{where} {_short(variant)}", variant, other, asked)

    def fits(self, old, new, asked):
        if "$ref" in old or "$ref" in new:
            return old.get("$ref") == new.get("$ref")
        return not list(_Comparison(self.old, self.new).schema("", old, new, asked))

    def fields(self, where, old, new, asked):
        before, after = old.get("properties", {}), new.get("properties", {})
        for name, schema in before.items():
            if name not in after:
                yield f"{where}.{name}: removed"
            else:
                yield from self.schema(f"{where}.{name}", schema, after[name], asked)
        must, may = set(old.get("required", ())), set(new.get("required", ()))
        for name in sorted(may - must if asked else must - may):
            yield f"{where}.{name}: {'became required' if asked else 'is no longer promised'}"
        if (
            asked
            and new.get("additionalProperties") is False
            and old.get("additionalProperties") is not False
            and before
        ):
            yield f"{where}: unknown fields became refused"
        left, right = old.get("additionalProperties"), new.get("additionalProperties")
        if isinstance(left, dict) and isinstance(right, dict):
            yield from self.schema(f"{where}.*", left, right, asked)


def _words(schema):
    if "const" in schema:
        return {repr(schema["const"])}
    return {repr(word) for word in schema["enum"]} if "enum" in schema else None


def _short(schema):
    return schema.get("$ref", schema.get("type", "?")).rpartition("/")[2]
