"""Whatever is answered: a refusal, or a file that reads back as what was answered."""

import tomllib

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from chargeassist.cli.job_new import held_by, objection
from chargeassist.session.job.jobfile import parse_job
from chargeassist.session.job.questions import next_question, questions
from chargeassist.session.job.tree import BY_HAND, toml_of_answers, toml_value, tree_of

HOSTILE = st.one_of(
    st.text(),
    st.sampled_from(['"', "\\", '"""', "'''", "\\u0041", "# x", "]\n[", "\x7f", "\x85", "\u2028"]),
)


@given(HOSTILE.filter(lambda text: not any("\ud800" <= c <= "\udfff" for c in text)))
def test_any_text_is_written_so_that_it_reads_back(text: str) -> None:
    written = toml_value(text)
    assert len(written.splitlines()) == 1
    assert tomllib.loads(f"key = {written}")["key"] == text


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_any_answers_give_a_refusal_or_a_file_that_reads_back(data: st.DataObject) -> None:
    answers: dict[str, str] = {}
    while (question := next_question(answers)) is not None:
        text = data.draw(
            st.one_of(
                st.just(""),
                st.just(question.example),
                st.sampled_from(question.choices) if question.choices else st.nothing(),
                HOSTILE.map(str.strip),
            ),
            label=question.key,
        )
        if objection(question, text, answers):
            text = (question.choices or (question.example,))[0] if question.needed else ""
            # Refused for what was said before: a person goes back; hypothesis objects to many.
            assume(not objection(question, text, answers))
        answers[question.key] = text or question.default
    written = toml_of_answers(answers, {q.key: q.example for q in questions(answers)})
    assert held_by(written, "job.toml") == tree_of(answers)
    job = parse_job(written, "job.toml")
    assert len(job.sources) == sum(
        key.endswith(".adapter") and answers[key] not in {"", BY_HAND} for key in answers
    )


def test_every_example_is_an_answer_the_readers_take() -> None:
    answers: dict[str, str] = {}
    while (question := next_question(answers)) is not None:
        text = question.choices[0] if question.choices else question.example
        if question.key.startswith("source.2"):
            text = ""
        assert objection(question, text, answers) == "", question.key
        answers[question.key] = text
    parse_job(toml_of_answers(answers, {}), "job.toml")


def test_every_example_of_a_modbus_line_is_an_answer_the_readers_take() -> None:
    answers: dict[str, str] = {}
    while (question := next_question(answers)) is not None:
        text = question.choices[0] if question.choices else question.example
        if question.key == "source.1.adapter":
            text = "modbus"
        elif question.key.startswith("source.2"):
            text = ""
        assert objection(question, text, answers) == "", question.key
        answers[question.key] = text
    job = parse_job(toml_of_answers(answers, {}), "job.toml")
    assert {probe.scale for probe in job.sources[0].probes} == {0.1}
