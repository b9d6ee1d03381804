"""`lowside …`: the commands. Each is a thin call into the part that does the work."""

import argparse
import gc
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from lowside.core.numbers.units import label

if TYPE_CHECKING:
    from lowside.web.serving import Settings

DEFAULT_DATA = Path("data")
DEFAULT_PORT = 8137
NEW_OBJECTS = 50_000
"""A server looks for rings of garbage after so many and not after 700. What it makes mostly stays:
looking took a tenth of its start and of sync. Our choice: one look takes a few milliseconds."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code (0 fine, 1 something is wrong, 2 misused)."""
    parser = argparse.ArgumentParser(
        prog="lowside", description="Charging a running air conditioner or heat pump, step by step."
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_serve(commands)
    _add_worker(commands)
    _add_tables(commands)
    _add_saturation(commands)
    _add_replay(commands)
    _add_hoses(commands)
    _add_people(commands)
    _add_practice(commands)
    _add_store_commands(commands)
    _add_demo(commands)
    chosen = parser.parse_args(arguments)
    try:
        code: int = chosen.run(chosen)
        sys.stdout.flush()
    except BrokenPipeError:  # `| head` has read enough; Python would write the rest at its end
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:
        print(f"This could not be done: {error}.", file=sys.stderr)
        return 1
    return code


def _add_serve(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = commands.add_parser("serve", help="serve the pages to this machine")
    parser.add_argument("--port", type=int, default=DEFAULT_PORT)
    parser.add_argument("--data", type=Path, default=DEFAULT_DATA, help="folder of the store")
    _add_store(parser)
    parser.add_argument("--no-qr", action="store_true", help="print only the address")
    parser.add_argument(
        "--offline",
        action=argparse.BooleanOptionalAction,
        default=True,
        help="let phones take an offline copy",
    )
    parser.add_argument(
        "--log-requests", action="store_true", help="a line of JSON for each request"
    )
    lan = parser.add_argument_group("serving phones (docs/serving-phones.md)")
    lan.add_argument("--lan", action="store_true", help="serve the network over https")
    lan.add_argument(
        "--name",
        action="append",
        default=[],
        help="host name or IP address phones use; repeat it. Default: this machine's address",
    )
    lan.add_argument("--lan-port", type=int, default=8443, help="https port")
    lan.add_argument("--trust-port", type=int, default=8080, help="port of the page about trust")
    lan.add_argument("--new-authority", action="store_true", help="for new names; trust it again")
    lan.add_argument("--proxy-name", help="real name under which a proxy serves this over https")
    lan.add_argument(
        "--proxy-listen", default="127.0.0.1:8139", help="where the proxy finds this server"
    )
    lan.add_argument(
        "--proxy-from", action="append", default=[], help="the proxy's IP address; repeat it"
    )
    parser.set_defaults(run=_serve)


def _serve(chosen: argparse.Namespace) -> int:
    gc.set_threshold(NEW_OBJECTS)
    from pydantic import ValidationError  # noqa: PLC0415

    from lowside.web.serving import serve  # noqa: PLC0415  starting other commands stays quick

    try:
        settings = _settings(chosen)
    except ValidationError as error:
        for wrong in error.errors(include_url=False):
            option = PORT_OPTIONS[error.title, str(wrong["loc"][0])]
            print(f"{option} must be a port, from 0 to 65535.", file=sys.stderr)
        return 2
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2
    return serve(settings)


PORT_OPTIONS = {
    ("Settings", "port"): "--port",
    ("Lan", "port"): "--lan-port",
    ("Lan", "trust_port"): "--trust-port",
    ("Proxy", "port"): "--proxy-listen",
}
"""The option that sets a port, by the class and field that hold it."""


def _settings(chosen: argparse.Namespace) -> "Settings":
    """What the options ask for.

    Raises
        ValidationError: a port cannot be one.
        ValueError: the options do not go together; the message is the sentence for the user.
    """
    from lowside.web.listening import Lan, Proxy  # noqa: PLC0415
    from lowside.web.serving import Settings  # noqa: PLC0415

    outside: Lan | Proxy | None = None
    if chosen.lan and chosen.proxy_name:
        raise ValueError("Choose one: --lan or --proxy-name. Phones need one address.")
    if chosen.lan:
        outside = Lan(
            names=tuple(chosen.name),
            port=chosen.lan_port,
            trust_port=chosen.trust_port,
            new_authority=chosen.new_authority,
        )
    elif chosen.proxy_name:
        host, _, number = chosen.proxy_listen.rpartition(":")
        if host == "" or not number.isascii() or not number.isdigit():
            raise ValueError("Give --proxy-listen as HOST:PORT, as 127.0.0.1:8139.")
        peers = tuple(chosen.proxy_from) or Proxy.peers
        outside = Proxy(
            name=chosen.proxy_name, host=host.strip("[]"), port=int(number), peers=peers
        )
    return Settings(
        data=chosen.data,
        port=chosen.port,
        show_qr=not chosen.no_qr,
        offline_copy=chosen.offline,
        store=chosen.store or "",
        log_requests=chosen.log_requests,
        outside=outside,
    )


def _add_worker(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = commands.add_parser("worker", help="write the phone's program for reading")
    parser.add_argument("--out", type=Path, required=True, help="folder for its ES modules")
    parser.set_defaults(run=_worker)


def _worker(chosen: argparse.Namespace) -> int:
    from lowside.translate import kinds, phone  # noqa: PLC0415

    try:
        phone.write_modules(chosen.out)
    except (OSError, kinds.TranslationError) as error:
        print(f"The modules could not be written: {error}", file=sys.stderr)
        return 1
    print(f"The phone's modules are in {chosen.out}")
    return 0


def _add_people(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = commands.add_parser("people", help="who may use this server, and their devices")
    parser.add_argument("--data", type=Path, default=DEFAULT_DATA, help="folder of the store")
    _add_store(parser)
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    actions.add_parser("list", help="people and their devices")
    add = actions.add_parser("add", help="add someone and make a pairing code")
    add.add_argument("name")
    add.add_argument("--role", choices=("field", "apprentice", "office"), required=True)
    for action, what in (
        ("code", "make a pairing code for another device"),
        ("remove", "block someone and all their devices"),
    ):
        actions.add_parser(action, help=what).add_argument("name")
    role = actions.add_parser("role", help="change what someone may open")
    role.add_argument("name")
    role.add_argument("role", choices=("field", "apprentice", "office"))
    revoke = actions.add_parser("revoke", help="block a lost device")
    revoke.add_argument("device", help="its identifier, as the list shows it")
    parser.set_defaults(run=_people)


def _people(chosen: argparse.Namespace) -> int:
    from lowside.web.access.people_commands import people_command  # noqa: PLC0415

    return people_command(chosen)


def _add_tables(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = commands.add_parser("tables", help="build or check the property tables")
    parser.add_argument("--build", action="store_true", help="build them again first")
    parser.add_argument("--check", action="store_true", help="compare them with CoolProp now")
    parser.add_argument("--json", action="store_true")
    parser.set_defaults(run=_tables)


def _tables(chosen: argparse.Namespace) -> int:
    from lowside.thermo.commands import tables_command  # noqa: PLC0415

    return tables_command(build=chosen.build, check=chosen.check, as_json=chosen.json)


def _add_saturation(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = commands.add_parser(
        "saturation", help="dew and bubble temperature at a gauge pressure"
    )
    parser.add_argument("refrigerant", nargs="?", help="as R-454B")
    parser.add_argument("pressure", nargs="?", help="gauge pressure with its unit, as 118psig")
    parser.add_argument("--elevation", default="0ft", help="of the site, as 5280ft or 1600m")
    parser.add_argument("--json", action="store_true")
    parser.add_argument(
        "--batch", action="store_true", help="answer JSON lines from standard input"
    )
    parser.set_defaults(run=_saturation)


def _saturation(chosen: argparse.Namespace) -> int:
    from lowside.thermo import commands  # noqa: PLC0415

    if chosen.batch:
        return commands.saturation_batch_command(sys.stdin)
    if chosen.refrigerant is None or chosen.pressure is None:
        print("Give a refrigerant and a pressure, as: lowside saturation R-454B 118psig")
        return 2
    return commands.saturation_command(
        chosen.refrigerant, chosen.pressure, chosen.elevation, chosen.json
    )


def _add_replay(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = commands.add_parser("replay", help="what is true after each event of a session file")
    parser.add_argument("file", type=Path)
    parser.add_argument("--json", action="store_true", help="one JSON object a line")
    parser.add_argument(
        "--data",
        type=Path,
        help="data folder with the shop's own procedures; the file's own folder by default",
    )
    parser.set_defaults(run=_replay)


def _replay(chosen: argparse.Namespace) -> int:
    from lowside.library import load_handbook  # noqa: PLC0415
    from lowside.procedures.shop import FOLDER, load_shop, with_shop  # noqa: PLC0415
    from lowside.replay import replay, store_of  # noqa: PLC0415
    from lowside.store.codec import read_events  # noqa: PLC0415

    if not chosen.file.exists():
        print(f"There is no file {chosen.file}.", file=sys.stderr)
        return 1
    events, problems = read_events(chosen.file)
    handbook = load_handbook()
    data = chosen.data or store_of(chosen.file)
    if data is not None:
        handbook = with_shop(handbook, load_shop(data / FOLDER, handbook))
    for line in replay(events, handbook):
        if chosen.json:
            print(json.dumps(line, ensure_ascii=False))
        else:
            print(_replay_text(line))
    for problem in problems:
        print(problem, file=sys.stderr)
    return 1 if problems else 0


def _replay_text(line: dict[str, object]) -> str:
    parts = [f"{line['time']}  {line['title']}"]
    for name, key in (("superheat", "superheat_k"), ("subcooling", "subcooling_k")):
        value = line[key]
        if isinstance(value, float):
            parts.append(f"{name} {label('temperature_difference', value, '°F')}")
    if line["verdict"] is not None:
        parts.append(str(line["verdict"]))
    added = line["added_g"]
    if isinstance(added, float) and added > 0.0:
        parts.append(f"added {label('mass', added / 1000.0, 'oz')}")
    if line["step_title"] is not None:
        parts.append(f"next: {line['step_title']}")
    return " · ".join(parts)


def _add_hoses(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = commands.add_parser("hoses", help="what the hose model says of every single slip")
    parser.add_argument("--slips", action="store_true", help="every slip, not only the counts")
    parser.add_argument("--into", type=Path, help="document to write the counts into")
    parser.add_argument(
        "--everywhere", action="store_true", help="other refrigerants, heat and cold; long"
    )
    parser.set_defaults(run=_hoses)


def _hoses(chosen: argparse.Namespace) -> int:
    from lowside.procedures.slip_tables import hoses_command  # noqa: PLC0415
    from lowside.procedures.slips_everywhere import everywhere_command  # noqa: PLC0415

    if chosen.everywhere:
        return everywhere_command()
    return hoses_command(chosen.slips, chosen.into)


def _add_practice(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    from lowside.practice.commands import add_arguments  # noqa: PLC0415

    add_arguments(commands.add_parser("practice", help="simulated units: measure the advice"))


def _add_store(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--store",
        type=_address,
        help="the store is in this database, as postgresql://role@host/name, not in the folder",
    )


def _address(text: str) -> str:
    from lowside.store.choosing import is_address  # noqa: PLC0415

    if not is_address(text):
        raise argparse.ArgumentTypeError("it must begin with postgresql://")
    return text


def _place(text: str) -> Path | str:
    from lowside.store.choosing import is_address  # noqa: PLC0415

    return text if is_address(text) else Path(text)


def _add_data(
    parser: argparse.ArgumentParser, kind: Callable[[str], Path | str], what: str
) -> None:
    """The store by its place in the command, or by `--data` as `serve` has it."""
    either = parser.add_mutually_exclusive_group()
    either.add_argument("place", type=kind, nargs="?", metavar="DATA", help=what)
    either.add_argument("--data", type=kind, default=DEFAULT_DATA, help="the same")


def _move_store(chosen: argparse.Namespace) -> int:
    from lowside.moving import move_store  # noqa: PLC0415

    return move_store(chosen.source, chosen.target)


def _prepare_store(chosen: argparse.Namespace) -> int:
    from lowside.store.choosing import make_ready  # noqa: PLC0415
    from lowside.store.errors import StoreError  # noqa: PLC0415

    try:
        done = make_ready(chosen.store, chosen.shard, chosen.shop, chosen.role)
    except StoreError as error:
        print(error, file=sys.stderr)
        return 1
    print("\n".join(done) or "Nothing was to be done.")
    return 0


def _add_store_commands(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    check = commands.add_parser("check-store", help="verify every stored event")
    _add_data(check, _place, "folder, or a database’s address")
    check.add_argument("--rebuild", action="store_true", help="make the index again from events")
    check.add_argument("--json", action="store_true")
    check.set_defaults(run=_check_store)
    export = commands.add_parser("export", help="sessions as plain JSON lines or a CSV list")
    _add_data(export, _place, "folder, or a database’s address")
    export.add_argument("--sid", action="append", default=[], help="only this session")
    export.add_argument("--csv", action="store_true", help="one line a session instead of events")
    export.add_argument("--out", type=Path, help="file to write; standard output otherwise")
    export.set_defaults(run=_export)
    backup = commands.add_parser("backup", help="the whole data folder as one checked file")
    _add_data(backup, Path, "folder of the store")
    backup.add_argument("--out", type=Path, required=True, help="file to write")
    backup.set_defaults(run=_backup)
    restore = commands.add_parser("restore", help="fill an empty data folder from a backup")
    restore.add_argument("file", type=Path)
    restore.add_argument("--data", type=Path, default=DEFAULT_DATA, help="empty or missing folder")
    restore.set_defaults(run=_restore)
    moving = commands.add_parser("move-store", help="copy a shop to another store, and compare")
    moving.add_argument("source", help="data folder, or the address of a database")
    moving.add_argument("target", help="the same")
    moving.set_defaults(run=_move_store)
    prepare = commands.add_parser("prepare-store", help="make a database ready for a shop")
    prepare.add_argument("store", type=_address, help="its address, for the role that owns it")
    prepare.add_argument(
        "--shard", type=_address, action="append", default=[], help="spread sessions over these"
    )
    prepare.add_argument("--shop", required=True, help="the shop's name in this database")
    prepare.add_argument("--role", required=True, help="that its servers log in with")
    prepare.set_defaults(run=_prepare_store)


def _check_store(chosen: argparse.Namespace) -> int:
    from lowside.outlining import outline  # noqa: PLC0415
    from lowside.store.commands import check_store  # noqa: PLC0415

    return check_store(chosen.place or chosen.data, outline, chosen.rebuild, chosen.json)


def _export(chosen: argparse.Namespace) -> int:
    from lowside.outlining import outline  # noqa: PLC0415
    from lowside.store.commands import export  # noqa: PLC0415

    return export(chosen.place or chosen.data, outline, chosen.sid, chosen.csv, chosen.out)


def _backup(chosen: argparse.Namespace) -> int:
    from lowside.store.commands import back_up  # noqa: PLC0415

    return back_up(chosen.place or chosen.data, chosen.out)


def _restore(chosen: argparse.Namespace) -> int:
    from lowside.outlining import outline  # noqa: PLC0415
    from lowside.store.commands import bring_back  # noqa: PLC0415

    return bring_back(chosen.file, chosen.data, outline)


def _add_demo(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = commands.add_parser("demo", help="put invented sessions into an empty store")
    parser.add_argument("--data", type=Path, default=DEFAULT_DATA)
    parser.set_defaults(run=_demo)


def _demo(chosen: argparse.Namespace) -> int:
    from lowside.demo import put_demo_sessions  # noqa: PLC0415
    from lowside.store.errors import StoreError  # noqa: PLC0415

    try:
        count = put_demo_sessions(chosen.data)
    except StoreError as error:
        print(error, file=sys.stderr)
        return 1
    if count == 0:
        print(f"{chosen.data} already has sessions: nothing added.")
    else:
        print(f"{count} demo sessions are in {chosen.data}.")
    return 0
