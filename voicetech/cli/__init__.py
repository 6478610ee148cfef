"""The commands. This is where the parts are joined; nothing below calls upward."""

import typer

from voicetech.cli.chat import chat
from voicetech.cli.demo import demo
from voicetech.cli.forget import forget
from voicetech.cli.hear import hear
from voicetech.cli.jobs import jobs
from voicetech.cli.judge import app as judge_app
from voicetech.cli.push import push
from voicetech.cli.recordings import recordings
from voicetech.cli.rehearse import rehearse
from voicetech.cli.replay import replay
from voicetech.cli.report import report
from voicetech.cli.review import review
from voicetech.cli.talk import talk
from voicetech.cli.understand import understand
from voicetech.cli.upkeep import upkeep

app = typer.Typer(
    name="voicetech",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="markdown",
    help=(
        "Talks an appliance technician through a job: safe first, one test at a time, by voice or by text, offline.\n\n"
        "Start with the recorded demo: voicetech demo. Practise on a simulated range: "
        "voicetech rehearse. Work by keyboard: voicetech chat. At the appliance, "
        "with a headset: voicetech talk. voicetech advises and records; it never declares a circuit safe. Local "
        "code, the maker's service sheet and a licensed electrician outrank it."
    ),
)
app.command()(demo)
app.command()(talk)
app.command()(chat)
app.command()(hear)
app.command()(understand)
app.add_typer(judge_app, name="judge")
app.command()(jobs)
app.command()(push)
app.command()(report)
app.command()(review)
app.command()(replay)
app.command()(recordings)
app.command()(forget)
app.command()(upkeep)
app.command()(rehearse)


def main() -> None:
    """Run the command line."""
    app()
