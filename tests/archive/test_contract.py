"""What an archive answers, the same from either kind of database."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from tests.archive.jobs import DAY_S, PLAIN, START_S, said, summary
from voicetech.archive.errors import NoSuchNameError
from voicetech.archive.figures import figures_of
from voicetech.archive.keeping import drop, keep
from voicetech.archive.listing import Filters, is_empty, jobs_listed
from voicetech.archive.opening import Archive
from voicetech.summary.rates import Share
from voicetech.summary.records import Fault, FaultState, JobSummary, Line, PromptCount, SectionTime, Who
from voicetech.summary.words import wanted, words_in

RECORD = "a" * 32
OTHER = "b" * 32


def kept(archive: Archive, *summaries: JobSummary, record: str = RECORD) -> None:
    with archive.writing() as connection:
        keep(connection, record, summaries)


def names(archive: Archive, limit: int | None = None, **filters: object) -> list[str]:
    return [job.job for job in jobs_listed(archive, Filters(**filters), limit).jobs]  # type: ignore[arg-type]


def about(archive: Archive, words: str, who: Who | None = None) -> list[str]:
    return names(archive, words=wanted(words), who=who)


def test_a_summary_comes_back_as_it_was_kept(archive: Archive) -> None:
    kept(archive, PLAIN)
    (job,) = jobs_listed(archive, Filters()).jobs
    for name in (
        "job", "procedure", "appliance", "model", "serial", "complaint", "complaint_says", "outcome", "faults",
        "parts", "opened_at_s", "last_at_s", "worked_s", "tests", "proofs_of_dead", "events", "unreadable",
    ):  # fmt: skip
        assert getattr(job, name) == getattr(PLAIN, name), name
    assert (job.record, job.laptop, job.found) == (RECORD, "", None)


def test_what_the_record_does_not_say_stays_unsaid(archive: Archive) -> None:
    nothing = JobSummary(
        "bare", None, None, None, None, None, None, None, "", None, None, 0, None, 0, 2, 0, None, (), (), (), (), ()
    )
    kept(archive, nothing)
    (job,) = jobs_listed(archive, Filters()).jobs
    assert (job.procedure, job.complaint, job.outcome, job.opened_at_s, job.tests) == (None, None, None, None, None)
    assert job.unreadable == 2
    assert figures_of(archive, Filters()).first_s is None


def test_the_job_worked_on_last_stands_first_and_the_rest_is_counted(archive: Archive) -> None:
    kept(archive, *(summary(f"job-{n}", last_at_s=START_S + n) for n in (3, 1, 2)), summary("none", last_at_s=None))
    page = jobs_listed(archive, Filters(), 2)
    assert [job.job for job in page.jobs] == ["job-3", "job-2"]
    assert page.total == 4
    assert names(archive) == ["job-3", "job-2", "job-1", "none"]


def test_a_summary_kept_again_takes_the_place_of_the_one_before(archive: Archive) -> None:
    kept(archive, summary("a", lines=said("old words")), summary("b"))
    kept(archive, summary("a", lines=said("new words"), faults=(), complaint="broil"))
    assert sorted(names(archive)) == ["a", "b"]
    assert about(archive, "old") == []
    assert about(archive, "new") == ["a"]
    assert names(archive, fault="bake-open") == ["b"]
    assert figures_of(archive, Filters()).jobs == 2


def test_jobs_of_one_name_in_two_records_are_two_jobs(archive: Archive) -> None:
    kept(archive, summary("a", model="A1"))
    kept(archive, summary("a", model="B2"), record=OTHER)
    assert names(archive) == ["a", "a"]
    with archive.writing() as connection:
        assert drop(connection, RECORD, ["a"]) == 1
    (left,) = jobs_listed(archive, Filters()).jobs
    assert (left.record, left.model) == (OTHER, "B2")


def test_nothing_of_a_dropped_job_is_left(archive: Archive) -> None:
    kept(archive, PLAIN)
    with archive.writing() as connection:
        assert drop(connection, RECORD, ["plain", "never there"]) == 1
        for table in ("job", "job_term", "section_time", "prompt_count", "lines", "words"):
            assert connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one() == 0, table
    assert is_empty(archive)


def test_filters_pick_what_they_say(archive: Archive) -> None:
    broil = Fault("broil-open", "the broil element is open", FaultState.SUSPECTED)
    ruled_out = Fault("lost-leg", "one leg of the supply is missing", FaultState.RULED_OUT)
    kept(
        archive,
        PLAIN,
        summary("broil", complaint="broil", complaint_says="broil is cold", faults=(broil, ruled_out), parts=()),
        summary("open", outcome=None, appliance="wall oven", model="k 12-B", parts=("oven sensor",)),
    )
    assert names(archive, complaint="broil") == ["broil"]
    assert names(archive, fault="broil-open") == ["broil"]
    assert names(archive, part="sensor") == ["open"]
    assert names(archive, outcome="open") == ["open"]
    assert names(archive, appliance="oven") == ["open"]
    assert names(archive, model="k twelve") == ["open"]
    assert names(archive, model="K12b") == ["open"]
    assert names(archive, model="9") == []
    assert names(archive, fault="bake", outcome="repaired") == ["plain"]
    assert names(archive, fault="lost-leg") == [], "it was ruled out"


def test_a_name_may_be_shortened_and_an_exact_one_is_only_itself(archive: Archive) -> None:
    faults = [Fault(cause, says, FaultState.PROVED) for cause, says in (("bake", ""), ("bake-open", "element open"))]
    kept(archive, summary("a", faults=(faults[0],)), summary("b", faults=(faults[1],)))
    assert names(archive, fault="bake") == ["a"]
    assert sorted(names(archive, fault="BAK")) == ["a", "b"]
    assert names(archive, fault="elem op") == ["b"]


def test_a_name_no_job_has_is_answered_with_those_there_are(archive: Archive) -> None:
    kept(archive, PLAIN)
    with pytest.raises(NoSuchNameError, match=r"fault 'grill'.*bake-open"):
        names(archive, fault="grill")
    with pytest.raises(NoSuchNameError, match="There are: repaired"):
        names(archive, outcome="'; DROP TABLE job; --")
    with pytest.raises(NoSuchNameError, match="laptop"):
        names(archive, record="van 9")


def test_a_day_holds_every_job_that_was_worked_on_in_it(archive: Archive) -> None:
    kept(
        archive,
        summary("first", opened_at_s=START_S, last_at_s=START_S + 10),
        summary("over night", opened_at_s=START_S + 5, last_at_s=START_S + DAY_S + 5),
        summary("second", opened_at_s=START_S + DAY_S, last_at_s=START_S + DAY_S + 1),
    )
    assert names(archive, since_s=START_S + DAY_S) == ["over night", "second"]
    assert sorted(names(archive, until_s=START_S + DAY_S)) == ["first", "over night"]
    assert names(archive, since_s=START_S + 100, until_s=START_S + DAY_S - 1) == ["over night"]


def test_words_are_found_wherever_they_were_said(archive: Archive) -> None:
    kept(
        archive,
        summary("a", lines=(*said("the terminal is burnt"), *said("Which terminal?", who=Who.PROGRAM))),
        summary("b", lines=said("burnt", who=Who.PROGRAM)),
        summary("c", lines=said("burning terminals", who=Who.RECORD)),
    )
    assert sorted(about(archive, "burnt")) == ["a", "b"]
    assert about(archive, "terminal burnt") == ["a"], "all of the words"
    assert sorted(about(archive, "burn")) == ["a", "b", "c"], "the last may go on"
    assert about(archive, "burn terminal") == [], "and only the last"
    assert about(archive, "burnt", Who.PROGRAM) == ["b"]
    assert about(archive, "terminal", Who.TECHNICIAN) == ["a"]
    assert about(archive, "TERMINAL   Burnt?!") == ["a"]


def test_where_words_were_found_is_told(archive: Archive) -> None:
    kept(archive, summary("a", lines=(*said("nothing"), *said("no", "The Terminal is burnt.", who=Who.PROGRAM))))
    (job,) = jobs_listed(archive, Filters(words=wanted("burnt terminal"))).jobs
    assert job.found is not None
    assert (job.found.who, job.found.event, job.found.text) == (Who.PROGRAM, 2, "The Terminal is burnt.")
    assert [job.found.text[first:end] for first, end in job.found.spans] == ["Terminal", "burnt"]


NOT_QUERIES = (
    '"bake', 'bake"*', "bake AND", "NOT bake", "NEAR(bake", "(bake OR", "bake:*", "said:bake", "-bake", "bake & !",
    "' OR 1=1 --", "bäke", "bake\\", "{said} : bake", "^bake", "bake <-> x", "\0bake", "ba\u0301ke", "*bake*",
)  # fmt: skip


@pytest.mark.parametrize("typed", NOT_QUERIES)
def test_whatever_is_typed_is_words_and_never_a_query(archive: Archive, typed: str) -> None:
    kept(archive, summary("a", lines=said("and or not near said x 1 bake")), summary("b", lines=said("broil")))
    assert about(archive, typed) == ["a"]


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(st.text(min_size=1, max_size=40))
def test_every_word_of_any_text_is_found_again(archive: Archive, words: str) -> None:
    kept(archive, summary("a", lines=said(words)), summary("b", lines=said("zzz")))
    for word in words_in(words):
        assert "a" in names(archive, words=(word,))
    if looked_for := wanted(words):
        assert "a" in names(archive, words=looked_for)


def test_text_no_database_likes_is_kept(archive: Archive) -> None:
    kept(archive, summary("a\0b", model="M\0", complaint="ba\0ke", lines=said("nu\0ll", "😀 𝔞 \u202e")))
    assert names(archive) == ["a\N{REPLACEMENT CHARACTER}b"]
    assert len(about(archive, "null")) + len(about(archive, "nu ll")) == 1


def test_a_job_of_very_many_words_is_kept_and_its_first_words_are_found(archive: Archive) -> None:
    many = [f"wort{number:06}" * 5 for number in range(30_000)]
    kept(archive, summary("a", lines=said(" ".join(many))))
    assert about(archive, many[0]) == ["a"]


def test_figures(archive: Archive) -> None:
    prompts = (PromptCount("intake", "complaint", 2, 2, 1, repeated=1, denied=1, misheard=1),)
    kept(
        archive,
        PLAIN,
        summary("b", worked_s=700, tests=9, proofs_of_dead=3, sections=(SectionTime("bake", 1, 100),), prompts=prompts),
        summary("c", outcome="handed over", faults=(), complaint=None, proofs_of_dead=0, sections=(), prompts=()),
        summary(
            "d",
            outcome=None,
            worked_s=10,
            tests=None,
            faults=(
                Fault("bake-open", "", FaultState.SUSPECTED),
                Fault("lost-leg", "one leg is missing", FaultState.MENDED),
            ),
            sections=(),
            prompts=(),
        ),
    )
    figures = figures_of(archive, Filters())
    assert figures.jobs == 4
    assert [(f.outcome, f.share) for f in figures.outcomes] == [
        ("repaired", Share(2, 4)), ("handed over", Share(1, 4)), ("open", Share(1, 4)),
    ]  # fmt: skip
    assert figures.worked is not None
    assert (figures.worked.n, figures.worked.median, figures.worked.most) == (3, 500, 700), "closed jobs"
    assert [(f.section, f.seconds.n, f.seconds.mean, f.visits) for f in figures.sections] == [
        ("bake", 2, 200.0, 3), ("intake", 1, 100.0, 1),
    ]  # fmt: skip
    assert [(f.complaint, f.fault, f.share) for f in figures.faults] == [
        ("bake", "bake-open", Share(2, 3)), ("bake", "lost-leg", Share(1, 3)),
    ]  # fmt: skip
    complaint, ohms = figures.prompts
    assert complaint.count == PromptCount("intake", "complaint", 3, 3, 2, repeated=1, denied=1, misheard=1)
    assert (complaint.first, complaint.trouble) == (Share(2, 3), 2)
    assert ohms.count.again == 1
    assert figures.first_answers == Share(3, 5)
    assert figures.tests is not None
    assert figures.tests_made == ((5, 2), (9, 1))
    assert figures.proofs_made == ((0, 1), (1, 2), (3, 1))
    assert figures.proved_again == Share(1, 3)
    assert (figures.first_s, figures.last_s) == (START_S, START_S + 600)


def test_figures_of_some_jobs_count_those_only(archive: Archive) -> None:
    kept(archive, PLAIN, summary("b", complaint="broil", lines=said("seldom")), summary("c", complaint=None))
    by_complaint = figures_of(archive, Filters(complaint="broil"))
    assert (by_complaint.jobs, by_complaint.first_answers.of) == (1, 3)
    assert [(f.complaint, f.share) for f in by_complaint.faults] == [("broil", Share(1, 1))]
    assert figures_of(archive, Filters(words=("seldom",))) == by_complaint
    without = figures_of(archive, Filters())
    assert [(f.complaint, f.share.of) for f in without.faults] == [("bake", 1), ("broil", 1), (None, 1)]


def test_figures_of_nothing(archive: Archive) -> None:
    figures = figures_of(archive, Filters())
    assert (figures.jobs, figures.worked, figures.faults, figures.prompts) == (0, None, (), ())
    assert figures.first_answers.rate is None


def test_many_jobs_at_once(archive: Archive) -> None:
    jobs = [replace(PLAIN, job=f"{n:05}", last_at_s=START_S + n, lines=said(f"number {n}")) for n in range(1500)]
    kept(archive, *jobs)
    assert jobs_listed(archive, Filters(), 3).total == 1500
    assert about(archive, "number 1499") == ["01499"]
    assert len(jobs_listed(archive, Filters(words=("number",))).jobs) == 1500
    with archive.writing() as connection:
        assert drop(connection, RECORD, [job.job for job in jobs]) == 1500
    assert is_empty(archive)


def test_a_line_without_words_does_no_harm(archive: Archive) -> None:
    kept(archive, summary("a", lines=(Line(Who.PROGRAM, 0, None, "— … —"),)))
    assert names(archive) == ["a"]
    assert about(archive, "x") == []
