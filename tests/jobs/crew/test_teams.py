"""The team search against plain counting of every way to share people out."""

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.crew.teams import Need, find_teams

SKILLS = ["lead", "drive", "rig"]
EVERYBODY = st.lists(st.frozensets(st.sampled_from(SKILLS)), min_size=0, max_size=5)


def need_of(people: int) -> st.SearchStrategy[Need]:
    return st.builds(
        Need,
        people=st.integers(0, 3),
        skills=st.frozensets(st.sampled_from(SKILLS), max_size=2),
        who=st.frozensets(st.sampled_from(range(people)) if people else st.nothing(), max_size=people),
    )


def by_counting(needs: list[Need], skills_of: dict[int, frozenset[str]]) -> bool:
    for places in product(range(len(needs) + 1), repeat=len(skills_of)):
        teams = [{m for m, place in enumerate(places) if place == n} for n in range(len(needs))]
        if all(
            team <= need.who
            and len(team) >= need.people
            and need.skills <= frozenset().union(*(skills_of[m] for m in team))
            for need, team in zip(needs, teams, strict=True)
        ):
            return True
    return False


@settings(max_examples=300)
@given(st.data())
def test_finds_teams_exactly_when_there_are_any(data):
    skills_of = dict(enumerate(data.draw(EVERYBODY)))
    needs = data.draw(st.lists(need_of(len(skills_of)), min_size=1, max_size=3))
    found = find_teams(needs, skills_of)
    assert (found is not None) == by_counting(needs, skills_of)
    if found is not None:
        assert sum(map(len, found)) == len(frozenset().union(*found))
        for need, team in zip(needs, found, strict=True):
            assert team <= need.who and len(team) >= need.people
            assert need.skills <= frozenset().union(*(skills_of[m] for m in team))


def test_one_person_may_bring_several_skills():
    lead_who_drives = {1: frozenset({"lead", "drive"}), 2: frozenset()}
    both = frozenset({1, 2})
    assert find_teams([Need(2, frozenset({"lead", "drive"}), both)], lead_who_drives) == [both]


def test_one_person_is_in_one_team():
    skills_of = {1: frozenset({"lead"}), 2: frozenset(), 3: frozenset()}
    need = Need(1, frozenset({"lead"}), frozenset(skills_of))
    assert find_teams([need, need], skills_of) is None


def test_who_can_do_least_is_taken_first():
    skills_of = {1: frozenset({"rig", "lead"}), 2: frozenset({"rig"})}
    assert find_teams([Need(1, frozenset({"rig"}), frozenset({1, 2}))], skills_of) == [frozenset({2})]
