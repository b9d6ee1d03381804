"""The field templates as one ES module, so that the phone renders the very bytes the server does.

Reads the templates with Jinja2's own parser and writes a JavaScript function for each. What it
knows is a safe subset, listed in `docs/decisions/0003-core-and-templates.md`; anything else is a
`TemplateBuildError` that names file and line, never a guess.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from jinja2 import TemplateSyntaxError, nodes

from lowside.rendering import TEMPLATES, FieldTemplates
from lowside.translate.atoms import in_template
from lowside.translate.kinds import TranslationError
from lowside.translate.names import ShortNames

RUNTIME = Path(__file__).with_name("template_runtime.js")

RESERVED = ("loop", "self", "super", "caller", "varargs", "kwargs")
"""Names Jinja2 gives a meaning of its own."""


class TemplateBuildError(TranslationError):
    """A template uses what the compiler does not know; the message starts with file:line."""


@dataclass
class _Macro:
    function: str
    arguments: tuple[str, ...]


@dataclass
class _Scope:
    """What names mean at one place: JavaScript locals, known macros, and whether the page's
    context can be seen (it cannot from inside a macro)."""

    locals: Mapping[str, str] = field(default_factory=dict)
    macros: Mapping[str, _Macro] = field(default_factory=dict)
    sees_context: bool = True
    made: int = 0
    """Locals made on the way here. A short name is that of its number: alike in all functions."""

    def with_local(self, name: str, variable: str) -> "_Scope":
        known = {**self.locals, name: variable}
        return _Scope(known, self.macros, self.sees_context, self.made + 1)


def compile_templates(
    folder: Path = TEMPLATES, subfolder: str = "field", short: bool = False
) -> str:
    """Text of an ES module that exports `render(name, context)` and `TemplateError`.

    Args:
        folder: where `{% extends %}` and the like look names up.
        subfolder: every `.html` file in it becomes a page or, when its name starts with `_`, a
            file of macros.
        short: give functions and variables short names: half a kilobyte less to download.

    Raises
        TemplateBuildError: file, line and what is not in the subset.
    """
    names = sorted(f"{subfolder}/{path.name}" for path in (folder / subfolder).glob("*.html"))
    return compile_named(FieldTemplates(folder), names, short)


def compile_named(environment: FieldTemplates, names: Sequence[str], short: bool = False) -> str:
    """The same for these templates only, and what they draw on."""
    module = _Module(environment, ShortNames("$") if short else None)
    pages = {name: module.page(name) for name in names if not _is_part(name)}
    for name in names:
        if _is_part(name):
            module.macros_of(name)
    table = "".join(f"  [{_text(name)}, {function}],\n" for name, function in pages.items())
    return (
        "// Made from templates/ by lowside.translate.templates. Edit those, not this.\n\n"
        + RUNTIME.read_text(encoding="utf-8")
        + "\n"
        + "\n".join(module.functions)
        + "\n/** @type {Map<string, (context: any) => string>} */\n"
        + f"let PAGES = new Map([\n{table}]);\n\n"
        + "/** @param {string} name @param {any} context @returns {string} */\n"
        + "function render(name, context) {\n"
        + "  let page = PAGES.get(name);\n"
        + "  if (page === undefined) throw new TemplateError(`there is no template ${name}`);\n"
        + "  return page(context);\n}\n\nexport { render, TemplateError };\n"
    )


def _is_part(name: str) -> bool:
    return name.rsplit("/", 1)[-1].startswith("_")


def _text(text: str) -> str:
    """A JavaScript string literal."""
    return (
        json.dumps(text, ensure_ascii=False)
        .replace("\u2028", "\\u2028")
        .replace("\u2029", "\\u2029")
    )


class _Module:
    """The functions made so far, each template and macro once."""

    def __init__(self, environment: FieldTemplates, short: ShortNames | None) -> None:
        self.environment = environment
        self._short = short
        self.functions: list[str] = []
        self._macros: dict[str, dict[str, _Macro]] = {}

    def page(self, name: str) -> str:
        """Compile a whole page and give its function's name."""
        template = self._parse(name)
        own = _TemplateFile(self, name)
        parent = own.parent_of(template)
        scope = _Scope(macros=own.imports(template))
        if parent is None:
            body = own.body(template.body, scope, blocks={}, top=True)
        else:
            overriding = own.overriding_blocks(template, scope)
            above = self._parse(parent)
            base = _TemplateFile(self, parent)
            if base.parent_of(above) is not None:
                raise own.error(template.body[0], "extends more than one level up")
            body = base.body(
                above.body, _Scope(macros=base.imports(above)), blocks=overriding, top=True
            )
            unknown = [block for block in overriding if block not in base.blocks_met]
            if unknown:
                raise own.error(
                    own.block_nodes[unknown[0]], f"block “{unknown[0]}”, which {parent} lacks"
                )
        return self._function("page", name, ["context"], body)

    def macros_of(self, name: str) -> Mapping[str, _Macro]:
        """The macros a file defines, compiled."""
        if name not in self._macros:
            known: dict[str, _Macro] = {}
            self._macros[name] = known
            own = _TemplateFile(self, name)
            template = self._parse(name)
            imported = own.imports(template)
            defined = [node for node in template.body if isinstance(node, nodes.Macro)]
            for node in defined:
                known[node.name] = own.signature(node)
            for node in defined:
                own.macro(node, {**imported, **known})
        return self._macros[name]

    def local(self, name: str, made: int) -> str:
        """What a variable is called, with so many made before it in its function."""
        return self.called("v", f"{made}" if self._short else f"{name}_{made}")

    def called(self, kind: str, name: str) -> str:
        """What a function or variable is called; the runtime has no such names."""
        plain = "".join(c if c.isascii() and c.isalnum() else "_" for c in name)
        return self._short.of(f"{kind}_{name}") if self._short else f"{kind}_{plain}"

    def _function(self, kind: str, name: str, arguments: Sequence[str], body: str) -> str:
        function = self.called(kind, name)
        self.add(function, arguments, body)
        return function

    def add(self, function: str, arguments: Sequence[str], body: str) -> None:
        typed = "".join(f" @param {{any}} {argument}" for argument in arguments)
        self.functions.append(
            f"/**{typed} @returns {{string}} */\n"
            f"function {function}({', '.join(arguments)}) {{\n"
            f'  let out = "";\n{body}  return out;\n}}\n'
        )

    def _parse(self, name: str) -> nodes.Template:
        try:
            source = (self.environment.folder / name).read_text(encoding="utf-8")
        except FileNotFoundError:
            raise TemplateBuildError(f"templates/{name}:1: there is no such template") from None
        try:
            return self.environment.parse(source, name)
        except TemplateSyntaxError as error:
            raise TemplateBuildError(f"templates/{name}:{error.lineno}: {error.message}") from None


class _TemplateFile:
    """One template being compiled: knows its name for errors and the blocks it met."""

    def __init__(self, module: _Module, name: str) -> None:
        self.module = module
        self.name = name
        self.blocks_met: list[str] = []
        self.block_nodes: dict[str, nodes.Block] = {}

    def error(self, node: nodes.Node, what: str) -> TemplateBuildError:
        return TemplateBuildError(
            f"templates/{self.name}:{_line(node)}: {what} is not in the subset field templates use"
        )

    # The top of a file

    def parent_of(self, template: nodes.Template) -> str | None:
        found = [node for node in template.body if isinstance(node, nodes.Extends)]
        if not found:
            return None
        if len(found) > 1 or found[0] is not next(
            node for node in template.body if not _is_blank(node)
        ):
            raise self.error(found[-1], "extends anywhere but first")
        return self._literal(found[0], found[0].template, "extends")

    def imports(self, template: nodes.Template) -> dict[str, _Macro]:
        macros: dict[str, _Macro] = {}
        for node in template.body:
            if not isinstance(node, nodes.FromImport):
                continue
            if node.with_context:
                raise self.error(node, "import with context")
            source = self._literal(node, node.template, "import")
            available = self.module.macros_of(source)
            for wanted in node.names:
                if not isinstance(wanted, str):
                    raise self.error(node, f"import as “{wanted[1]}”")
                if wanted not in available:
                    raise self.error(node, f"import of “{wanted}”, which {source} lacks,")
                macros[wanted] = available[wanted]
        return macros

    def overriding_blocks(self, template: nodes.Template, scope: _Scope) -> dict[str, str]:
        blocks: dict[str, str] = {}
        for node in template.body:
            if isinstance(node, nodes.Block):
                self._check_block(node)
                self.block_nodes[node.name] = node
                blocks[node.name] = self.body(node.body, scope, blocks=None, top=False)
            elif not isinstance(node, nodes.Extends | nodes.FromImport) and not _is_blank(node):
                raise self.error(node, "output outside the blocks of a template that extends")
        return blocks

    def signature(self, node: nodes.Macro) -> _Macro:
        if node.defaults:
            raise self.error(node, "a macro argument with a default")
        for argument in node.args:
            self._check_name(node, argument.name)
        function = self.module.called("macro", self.name + "_" + node.name)
        return _Macro(function, tuple(argument.name for argument in node.args))

    def macro(self, node: nodes.Macro, macros: Mapping[str, _Macro]) -> None:
        scope = _Scope(macros=macros, sees_context=False)
        for each in node.args:
            scope = scope.with_local(each.name, self.module.local(each.name, scope.made))
        body = self.body(node.body, scope, blocks=None, top=False)
        function = macros[node.name].function
        self.module.add(function, list(scope.locals.values()), body)

    # Statements

    def body(
        self,
        statements: Sequence[nodes.Node],
        scope: _Scope,
        blocks: Mapping[str, str] | None,
        top: bool,
        depth: int = 1,
    ) -> str:
        """JavaScript for these nodes. `blocks` are what a child puts in this file's blocks, `None`
        where no block may be; `top`: imports and macros were dealt with already."""
        lines = ""
        for node in statements:
            if top and isinstance(node, nodes.FromImport):
                continue
            if isinstance(node, nodes.Block) and blocks is not None and top:
                self._check_block(node)
                self.blocks_met.append(node.name)
                own = self.body(node.body, scope, None, False, depth)
                lines += blocks.get(node.name, own)
            else:
                lines += self._statement(node, scope, depth)
        return lines

    def _statement(self, node: nodes.Node, scope: _Scope, depth: int) -> str:
        pad = "  " * depth
        if isinstance(node, nodes.Output):
            printed = "".join(self._printed(part, scope) for part in node.nodes)
            return f"{pad}out += `{printed}`;\n"
        if isinstance(node, nodes.If):
            return self._if(node, scope, depth)
        if isinstance(node, nodes.For):
            return self._for(node, scope, depth)
        raise self.error(node, _named(node))

    def _if(self, node: nodes.If, scope: _Scope, depth: int) -> str:
        pad = "  " * depth
        lines = ""
        word = "if"
        for branch in [node, *node.elif_]:
            test = self._expression(branch.test, scope)
            inner = self.body(branch.body, scope, None, False, depth + 1)
            lines += f"{pad}{word} (truthy({test})) {{\n{inner}"
            word = "} else if"
        if node.else_:
            lines += f"{pad}}} else {{\n" + self.body(node.else_, scope, None, False, depth + 1)
        return lines + pad + "}\n"

    def _for(self, node: nodes.For, scope: _Scope, depth: int) -> str:
        if node.else_ or node.test or node.recursive:
            raise self.error(node, "for with else, if or recursive")
        if not isinstance(node.target, nodes.Name):
            raise self.error(node, "for over more than one name")
        if not isinstance(node.iter, nodes.Name | nodes.Getattr):
            raise self.error(node, "for over anything but a name or an attribute")
        self._check_name(node, node.target.name)
        over = self._expression(node.iter, scope)
        variable = self.module.local(node.target.name, scope.made)
        inner = self.body(
            node.body, scope.with_local(node.target.name, variable), None, False, depth + 1
        )
        pad = "  " * depth
        return f"{pad}for (let {variable} of each({over})) {{\n{inner}{pad}}}\n"

    def _printed(self, node: nodes.Node, scope: _Scope) -> str:
        if isinstance(node, nodes.TemplateData):
            return in_template(node.data)
        if isinstance(node, nodes.Call):
            return f"${{{self._macro_call(node, scope)}}}"
        return f"${{escaped({self._expression(node, scope)})}}"

    # Expressions

    def _macro_call(self, node: nodes.Call, scope: _Scope) -> str:
        if node.kwargs or node.dyn_args or node.dyn_kwargs:
            raise self.error(node, "a call with named or starred arguments")
        if not isinstance(node.node, nodes.Name) or node.node.name not in scope.macros:
            raise self.error(node, "a call of anything but an imported macro")
        if node.node.name in scope.locals:
            raise self.error(node, f"“{node.node.name}” as both a value and a macro")
        macro = scope.macros[node.node.name]
        if len(node.args) != len(macro.arguments):
            raise self.error(
                node,
                f"“{node.node.name}” with {len(node.args)} arguments, not {len(macro.arguments)},",
            )
        arguments = ",".join(self._expression(argument, scope) for argument in node.args)
        return f"{macro.function}({arguments})"

    def _expression(self, node: nodes.Node, scope: _Scope) -> str:
        if isinstance(node, nodes.Const):
            if isinstance(node.value, str):
                return _text(node.value)
            raise self.error(node, f"the constant {node.value!r}")
        if isinstance(node, nodes.Name):
            return self._name(node, scope)
        if isinstance(node, nodes.Getattr):
            return f"get({self._expression(node.node, scope)},{_text(node.attr)})"
        if isinstance(node, nodes.And | nodes.Or):
            word = "and" if isinstance(node, nodes.And) else "or"
            left = self._expression(node.left, scope)
            return f"{word}({left},()=>{self._expression(node.right, scope)})"
        if isinstance(node, nodes.Not):
            return f"!truthy({self._expression(node.node, scope)})"
        if isinstance(node, nodes.Compare):
            return self._comparison(node, scope)
        if isinstance(node, nodes.Concat):
            return f"joined({','.join(self._expression(part, scope) for part in node.nodes)})"
        raise self.error(node, _named(node))

    def _name(self, node: nodes.Name, scope: _Scope) -> str:
        self._check_name(node, node.name)
        if node.name in scope.locals:
            return scope.locals[node.name]
        if node.name in scope.macros:
            raise self.error(node, f"the macro “{node.name}” as a value")
        if not scope.sees_context:
            raise self.error(node, f"“{node.name}”, which is no argument of this macro,")
        return f"get(context,{_text(node.name)})"

    def _comparison(self, node: nodes.Compare, scope: _Scope) -> str:
        operand = node.ops[0]
        if len(node.ops) != 1 or operand.op not in ("eq", "ne"):
            raise self.error(node, "a comparison other than == and !=")
        if not any(isinstance(side, nodes.Const) for side in (node.expr, operand.expr)):
            raise self.error(node, "a comparison without a text in quotes")
        left = self._expression(node.expr, scope)
        sign = "!" if operand.op == "ne" else ""
        return f"{sign}equal({left}, {self._expression(operand.expr, scope)})"

    # Small checks

    def _literal(self, node: nodes.Node, template: nodes.Node, what: str) -> str:
        if not isinstance(template, nodes.Const) or not isinstance(template.value, str):
            raise self.error(node, f"{what} of anything but a name in quotes")
        return template.value

    def _check_block(self, node: nodes.Block) -> None:
        if node.scoped or node.required:
            raise self.error(node, "a scoped or required block")

    def _check_name(self, node: nodes.Node, name: str) -> None:
        if name in RESERVED:
            raise self.error(node, f"the name “{name}”")


def _is_blank(node: nodes.Node) -> bool:
    return isinstance(node, nodes.Output) and all(
        isinstance(part, nodes.TemplateData) and part.data.strip() == "" for part in node.nodes
    )


def _line(node: nodes.Node) -> int:
    """The line of a node; Jinja2 leaves it out of a node it made up, whose children know it."""
    known = node.lineno
    for child in node.iter_child_nodes():
        known = known or _line(child)
    return known


def _named(node: nodes.Node) -> str:
    return f"“{type(node).__name__}”"
