"""The commands: wiring only."""

import errno
import os
import signal
import sqlite3
import sys
import threading
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Annotated, Optional

import typer

from . import __version__
from .errors import BenchError

# typer carries its click under a private name; its own public error leads to click's
UsageError = typer.BadParameter.__base__

app = typer.Typer(
    name="sideplate", add_completion=False, invoke_without_command=True, rich_markup_mode=None, pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Footage of a reel service in; chapters, captions, a parts list, a printable guide, open viewer questions and an index out.\n\n"
         "Example: sideplate new bench && sideplate --shop bench add tamsel.mp4 --title \"Servicing a Brindock Tamsel 12\"\n\n"
         f"JSON Schema of the record out/episode.json: {Path(__file__).with_name('episode.schema.json')}")
waiting = typer.Typer(help="What viewers still wait for, over all episodes.\n\nExample: sideplate questions", invoke_without_command=True)
app.add_typer(waiting, name="questions")

ShopDir = Annotated[Path, typer.Option("--shop", envvar="SIDEPLATE_SHOP", metavar="DIR", help="The shop to work in; the current folder otherwise.")]
EpisodeId = Annotated[str, typer.Argument(metavar="EPISODE", help="An episode's id: the name of its folder.")]
Embed = Annotated[bool, typer.Option("--embed", help="Write a copy of the footage with the chapters in it, this time; for every time, set embed in shop.toml.")]
QuestionId = Annotated[str, typer.Argument(metavar="ID", help="A question's id, EPISODE/COMMENT, as the list shows it.")]


AGAIN = 0.4  # seconds after which a Ctrl-C that stopped nothing comes again


def _interrupted(signum, frame) -> None:
    """Ctrl-C. Where Python can raise nothing (an import's own bookkeeping) or a library swallows it, it comes again until the command has stopped."""
    timer = threading.Timer(AGAIN, os.kill, (os.getpid(), signal.SIGINT))
    timer.daemon = True
    timer.start()
    raise KeyboardInterrupt


def _stopped() -> None:
    """Ends the program. Not by way of Python's own end: that would raise the signal once more where it fell into code that was made of text."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(SystemExit):
        _fail("stopped. The same command again goes on from here")
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(1)


def _lost(what) -> None:
    """Python tells of an exception that it could not raise; of a Ctrl-C nobody needs to know, since it comes again."""
    if what.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(what)


def main() -> None:
    """The command `sideplate`. Exits 0 where the job was done, 1 where it failed, 2 where the command was wrong."""
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(errors="backslashreplace")  # a name from outside must not end a message half way
    sys.unraisablehook = _lost
    signal.signal(signal.SIGINT, _interrupted)
    try:
        code = app(standalone_mode=False)
        if code == 130:  # how typer tells of Ctrl-C
            raise KeyboardInterrupt
    except UsageError as error:
        _fail(f"{error.format_message().rstrip('.')}. See: {error.ctx.command_path if error.ctx else 'sideplate'} --help", 2)
    except (typer.Abort, KeyboardInterrupt):
        _stopped()
    except BenchError as error:
        _fail(str(error))
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except (OSError, sqlite3.Error) as error:
        _fail(_disk_trouble(error))
    except Exception as error:
        if os.environ.get("SIDEPLATE_DEBUG"):
            raise
        _fail(f"the program went wrong ({type(error).__name__}: {str(error)[:300]}). Set SIDEPLATE_DEBUG=1 to see where")
    sys.exit(code if isinstance(code, int) else 0)


def _fail(line: str, code: int = 1) -> None:
    line = "".join(c if c.isprintable() else " " for c in " ".join(line.split()))
    print(f"sideplate: {line}", file=sys.stderr)
    sys.exit(code)


def _disk_trouble(error: Exception) -> str:
    if getattr(error, "errno", None) in (errno.ENOSPC, errno.EDQUOT) or "disk is full" in str(error):
        return "the disk is full. What was finished before is untouched: make room, then run the same command again"
    where = str(BenchError(error.strerror or str(error), error.filename or "")) if isinstance(error, OSError) else str(error)
    return f"{where}. Check the disk and the rights of the folder, then run the same command again"


@app.callback()
def _shop(ctx: typer.Context, shop: ShopDir = Path("."),
          version: Annotated[bool, typer.Option("--version", help="Print the version.", is_eager=True)] = False) -> None:
    if version:
        print(f"sideplate {__version__}")
        raise typer.Exit()
    if ctx.invoked_subcommand is None:
        print(ctx.get_help())
    ctx.obj = shop


def _open(ctx: typer.Context):
    from .shop import Shop

    return Shop.open(ctx.find_root().obj)


@app.command()
def new(folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the shop goes; made if it is not there.")]) -> None:
    """Make a shop: a folder with settings and a glossary.

    Example: sideplate new bench
    """
    from .shop import Shop

    shop = Shop.make(folder)
    print(f"made a shop in {_show(shop.root)}: settings in shop.toml, your own words in glossary.toml")


@app.command()
def add(ctx: typer.Context,
        footage: Annotated[Optional[list[Path]], typer.Argument(help="Footage files, in order; several make one episode. Or a caption file alone.")] = None,
        captions: Annotated[Optional[Path], typer.Option(metavar="FILE", help="A caption file; takes the place of hearing.")] = None,
        comments: Annotated[Optional[Path], typer.Option(metavar="FILE", help="Viewer comments, JSON or CSV.")] = None,
        id: Annotated[Optional[str], typer.Option(help="The episode's id; made from the title otherwise.")] = None,
        title: Annotated[Optional[str], typer.Option(help="The episode's title; the file's name otherwise.")] = None,
        url: Annotated[Optional[str], typer.Option(help="Where the episode is published.")] = None,
        embed: Embed = False) -> None:
    """Take footage, or a caption file alone, through the whole chain.

    A name that begins with a dash goes after --.

    Example: sideplate add tamsel-1.mp4 tamsel-2.mp4 --title "Servicing a Brindock Tamsel 12" --comments comments.json

    Example: sideplate add tamsel.vtt
    """
    from . import runner

    shop = _open(ctx)
    with shop.writing("sideplate add"), _telling() as tell:
        done = runner.add(shop, footage or [], captions=captions, comments=comments, id=id, title=title, url=url, embed=embed, tell=tell)
    _report(done)


@app.command()
def redo(ctx: typer.Context,
         episode: Annotated[Optional[str], typer.Argument(help="An episode's id: the name of its folder.")] = None,
         all_: Annotated[bool, typer.Option("--all", help="Every episode of the shop.")] = False,
         hear: Annotated[bool, typer.Option("--hear", help="Hear the footage again too, even if nothing changed.")] = False,
         embed: Embed = False) -> None:
    """Bring an episode up to date: only what changed is done again (corrections, glossary, settings, a newer version).

    Example: sideplate redo servicing-a-brindock-tamsel-12
    """
    from . import runner

    if bool(episode) == all_:
        raise UsageError("Name one EPISODE, or give --all.", ctx)
    shop = _open(ctx)
    with shop.writing("sideplate redo"), _telling() as tell:
        failed = 0
        for folder in shop.episodes() if all_ else [shop.episode(episode)]:
            try:
                _report(runner.run(shop, folder, hear_again=hear, embed=embed, tell=tell))
            except BenchError as error:
                if not all_:
                    raise
                failed += 1
                print(f"sideplate: {folder.id}: {error}", file=sys.stderr)
    if failed:
        raise BenchError(f"{failed} of {len(shop.episodes())} episodes could not be brought up to date")


@app.command()
def still(ctx: typer.Context, episode: EpisodeId,
          step: Annotated[str, typer.Argument(metavar="STEP", help="The step's time, as the guide shows it: seconds, m:ss or h:mm:ss.")],
          moment: Annotated[Optional[str], typer.Argument(metavar="MOMENT", help="The moment that its picture shows.")] = None,
          words: Annotated[str, typer.Option(help="Some words of the step, where several are told at that time.")] = "",
          none: Annotated[bool, typer.Option("--none", help="No picture at this step.")] = False,
          back: Annotated[bool, typer.Option("--back", help="Take the choice back: the program chooses again.")] = False) -> None:
    """Choose another still for a step of the guide, or none. It stays so in every redo.

    Example: sideplate still servicing-a-brindock-tamsel-12 1:06 1:10

    Example: sideplate still servicing-a-brindock-tamsel-12 0:30 --words "lock screw" --none
    """
    from . import corrections, runner
    from .index import store

    if (moment is not None) + none + back != 1:
        raise UsageError("Give the MOMENT to show, or --none, or --back.", ctx)
    shop = _open(ctx)
    folder = shop.episode(episode)
    at, choice = _seconds(step), "none" if none else None if back else _seconds(moment)
    with shop.writing("sideplate still"), _telling() as tell:
        record = store.read_record(folder)
        if isinstance(choice, float) and choice >= record.duration:
            raise BenchError(f"is after the episode's end ({_clock(record.duration)})", moment)
        chosen, found = corrections.choose_still(corrections.load(folder.corrections), record, at, words, choice)
        corrections.save(folder.corrections, chosen)
        done = runner.run(shop, folder, tell=tell)
    shows = {"none": "shows no picture", None: "shows what the program chooses"}.get(choice) or f"shows {moment}"
    print(f"{_clock(found.start)} {shows}: {_line(found.text or f'{found.do} {found.part}')}")
    for lost in done.lost:
        print(f"note: {lost}")


@app.command("comments")
def bring_comments(ctx: typer.Context, episode: EpisodeId,
                   file: Annotated[Path, typer.Argument(metavar="FILE", help="Viewer comments, JSON or CSV.")]) -> None:
    """Bring in viewer comments, again and again without doubles.

    Example: sideplate comments servicing-a-brindock-tamsel-12 comments.csv
    """
    from . import runner

    shop = _open(ctx)
    folder = shop.episode(episode)
    with shop.writing("sideplate comments"), _telling() as tell:
        done, came, new_ones = runner.bring_comments(shop, folder, file, tell)
    print(f"{came} comments read, {new_ones} of them new")
    _report(done)


@waiting.callback()
def questions(ctx: typer.Context,
              all_: Annotated[bool, typer.Option("--all", help="Answered and dropped ones too.")] = False,
              episode: Annotated[Optional[str], typer.Option(metavar="EPISODE", help="Of this episode only.")] = None,
              limit: Annotated[int, typer.Option(min=1, max=100_000, help="At most so many.")] = 50) -> None:
    if ctx.invoked_subcommand:
        return
    from .index import store
    from .index.waiting import questions as asked

    with store.reading(_open(ctx)) as db:
        groups, count = asked(db, None if all_ else "open", episode, limit)
    for group in groups:
        times = f"{len(group)} × " if len(group) > 1 else ""
        print(f"{times}{_line(group[0].asks) or '(a question without words)'}")
        for q in group:
            state = f"  {q.status}" + (f": {_line(q.reply)}" if q.reply else "") if all_ else ""
            print(f"    {q.id}{state}")
            for a in q.answers if all_ else ():
                print(f"      {_clock(a['start'])} {a['episode']}: {_line(a['text'])}")
    if count > limit:
        print(f"… and {count - limit} more; see them with --limit {count}")
    if not groups:
        print("no questions yet" if all_ else "no viewer is waiting for an answer")


@waiting.command()
def answer(ctx: typer.Context, id: QuestionId,
           text: Annotated[Optional[str], typer.Argument(help="Your answer in words.")] = None,
           at: Annotated[Optional[str], typer.Option(metavar="TIME", help="The moment of the episode that answers it: seconds, m:ss or h:mm:ss.")] = None) -> None:
    """Answer a question, in words or with a moment of the episode.

    Example: sideplate questions answer servicing-a-brindock-tamsel-12/c15 "Not in that one: it wants the felt."

    Example: sideplate questions answer servicing-a-brindock-tamsel-12/c4 --at 3:33
    """
    if not text and at is None:
        raise UsageError("Give an answer in words, or a moment with --at.", ctx)
    _settle(ctx, id, lambda episode: {"status": "answered", "reply": text, "answers": [_moment(episode, at)] if at is not None else []})


@waiting.command()
def drop(ctx: typer.Context, id: QuestionId) -> None:
    """Put a question away without an answer.

    Example: sideplate questions drop servicing-a-brindock-tamsel-12/c13
    """
    _settle(ctx, id, lambda episode: {"status": "dropped"})


@waiting.command()
def reopen(ctx: typer.Context, id: QuestionId) -> None:
    """Let a question wait again.

    Example: sideplate questions reopen servicing-a-brindock-tamsel-12/c13
    """
    _settle(ctx, id, lambda episode: {"status": "open", "reply": None, "answers": []})


def _settle(ctx: typer.Context, id: str, state) -> None:
    """What the host decides about a question is a correction like any other, so it survives every redo."""
    from . import corrections, runner
    from .index import store
    from .index.waiting import question

    shop = _open(ctx)
    with store.reading(shop) as db:
        asked = question(db, id)
    with shop.writing("sideplate questions"), _telling() as tell:
        folder = shop.episode(asked.episode)
        known = corrections.load(folder.corrections)
        decided = corrections.Correction(about="question", words=asked.comment, set=state(store.read_record(folder)))
        corrections.save(folder.corrections, [*(c for c in known if not corrections.settles(c, asked.comment)), decided])
        done = runner.run(shop, folder, tell=tell)
    print(f"{asked.id} is {decided.set_['status']}: {_line(asked.asks)}")
    for lost in done.lost:
        print(f"note: {lost}")


def _moment(episode, at: str) -> dict:
    seconds = _seconds(at)
    if seconds > episode.duration:
        raise BenchError(f"is after the episode's end ({_clock(episode.duration)})", at)
    said = min(episode.sentences, key=lambda s: max(s.start - seconds, seconds - s.end, 0), default=None)
    return {"episode": episode.id, "start": said.start if said else seconds, "end": said.end if said else seconds,
            "text": said.text if said else "", "confidence": 1.0}


@app.command()
def find(ctx: typer.Context,
         words: Annotated[Optional[list[str]], typer.Argument(help="Words of the talk, of steps, parts and facts.")] = None,
         reel: Annotated[Optional[str], typer.Option(help="Only episodes about this reel model.")] = None,
         part: Annotated[Optional[str], typer.Option(help="Only moments about this part, tool or supply.")] = None,
         step: Annotated[Optional[str], typer.Option(help="Only steps that do this: remove, clean, lubricate …")] = None,
         limit: Annotated[int, typer.Option(min=1, max=1000, help="At most so many.")] = 20) -> None:
    """Find moments over all episodes.

    Example: sideplate find drag washer grease

    Example: sideplate find --reel "Tamsel 12" --part "main gear" --step lubricate
    """
    from .index import search, store

    if not words and not reel and not part and not step:
        raise UsageError("Say what to find: words, --reel, --part or --step.", ctx)
    with store.reading(_open(ctx)) as db:
        hits = search.find(db, " ".join(words or []), reel=reel, part=part, step=step, limit=limit)
    for hit in hits:
        print(f"{_clock(hit.start)}  {_line(hit.title)} ({hit.episode})")
        print(f"         {_line(hit.text, 160)}")
        if hit.found:
            print(f"         [{_line(hit.found, 160)}]")
    if not hits:
        print("no moment has all of this; try fewer words")


@app.command("reels")
def list_reels(ctx: typer.Context) -> None:
    """Every reel model: its episodes, and the models that the same service covers.

    Example: sideplate reels
    """
    from .index import reels, store

    with store.reading(_open(ctx)) as db:
        models = reels.reels(db)
    for model in models:
        print(_line(model.name))
        for id, title in model.episodes:
            print(f"    on the bench in  {_line(title)} ({id})")
        for sister in model.sisters:
            why = f': "{_line(sister.why, 160)}"' if sister.why else ""
            when = f" {_clock(sister.start)}" if sister.start is not None else ""
            print(f"    same service as  {_line(sister.name)} ({sister.episode}{when}){why}")
        for id, title in model.mentioned:
            print(f"    named in         {_line(title)} ({id})")
    if not models:
        print("no reels yet; add an episode with: sideplate add FOOTAGE")


@app.command()
def check(ctx: typer.Context) -> None:
    """Is everything here that the work needs?

    Example: sideplate check
    """
    from .checks import look

    missing = 0
    for line in look(ctx.find_root().obj):
        print(f"{'ok      ' if line.there else 'MISSING ' if line.needed else 'note    '}{_line(line.text, 400)}")
        missing += line.needed and not line.there
    if missing:
        raise BenchError(f"{missing} {'thing that the work needs is' if missing == 1 else 'things that the work needs are'} missing")


@app.command()
def demo(folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the shop of the demo goes.")] = Path("sideplate-demo")) -> None:
    """The whole job on the sample episode, in a fresh folder.

    Example: sideplate demo
    """
    from .demo import run_demo

    with _telling() as tell:
        done = run_demo(folder, tell)
    _report(done)
    print(f"look around with: sideplate --shop {_show(folder)} find drag   (or: reels, questions)")


def _report(done) -> None:
    """What was done, and where the files lie."""
    e = done.episode
    waiting_ones = sum(q.is_question and q.status == "open" for q in e.questions)
    counts = [(len(e.chapters), "chapters"), (len(e.steps), "steps"), (len(e.parts), "parts"), (len(e.facts), "facts"), (waiting_ones, "open questions")]
    print(f"{done.id}: {_line(e.title)}, {_clock(e.duration)}; " + ", ".join(f"{n} {what[:-1] if n == 1 else what}" for n, what in counts))
    print(f"    done: {', '.join(done.stages)}" if done.stages else "    nothing had changed")
    if done.files:
        out = done.files[0].parent
        print(f"    in {_show(out)}: {', '.join(sorted({f.relative_to(out).parts[0] + ('/' if len(f.relative_to(out).parts) > 1 else '') for f in done.files if f.is_relative_to(out)}))}")
    for lost in done.lost:
        print(f"    note: {_line(str(lost), 400)}; it stays in corrections.json")


@contextmanager
def _telling():
    """Progress on the terminal; nothing where output is not one."""
    from contextlib import nullcontext

    if not (sys.stderr.isatty() and sys.stdout.isatty()):
        from .runner import silent

        yield silent
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeRemainingColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[so_far]}"), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        def tell(stage: str):
            for old in bar.task_ids:
                bar.remove_task(old)
            task = bar.add_task(stage, total=None, so_far="")

            def step(done: float, total: float) -> None:
                bar.update(task, completed=done, total=total, so_far=f"{done / 60:.1f} of {total / 60:.1f} min")

            return nullcontext(step)

        yield tell


def _clock(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _seconds(clock: str) -> float:
    try:
        parts = [float(p) for p in clock.split(":")]
    except ValueError:
        parts = []
    if not 1 <= len(parts) <= 3 or any(not 0 <= p < 1e6 for p in parts):
        raise BenchError("is not a time", clock, "write seconds, m:ss or h:mm:ss")
    return sum(p * 60 ** i for i, p in enumerate(reversed(parts)))


def _line(text: str, most: int = 120) -> str:
    """Text from outside as one line that can't steer the terminal."""
    text = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return text if len(text) <= most else text[:most - 1] + "…"


def _show(path: Path) -> str:
    return _line(str(path), 1000)


if __name__ == "__main__":
    main()
