"""Can so many people, with these skills, be at several events at once? Plain sets, no database."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Need:
    """One event's wish: so many people, among whom each skill is found; `who` could come at all. One person
    may bring several of the skills."""

    people: int
    skills: frozenset[str]
    who: frozenset[int]


def find_teams(
    needs: Sequence[Need], skills_of: Mapping[int, frozenset[str]], *, last: Iterable[int] = ()
) -> list[frozenset[int]] | None:
    """A team for each need, nobody in two; None if there is none. Those in `last`, and then those with the most
    skills, are taken only when nobody else will do."""
    if not _could(needs, skills_of):
        return None
    spared = frozenset(last)
    order = sorted(skills_of, key=lambda member: (member in spared, len(skills_of[member]), member))
    return _Search(needs, skills_of, order).run([set() for _ in needs])


def _could(needs: Sequence[Need], skills_of: Mapping[int, frozenset[str]]) -> bool:
    """Rules out most of what is impossible before any search."""
    anybody = frozenset().union(*(need.who for need in needs)) & frozenset(skills_of)
    if sum(need.people for need in needs) > len(anybody):
        return False
    for skill in frozenset().union(*(need.skills for need in needs)):
        having = sum(skill in skills_of[member] for member in anybody)
        if having < sum(skill in need.skills for need in needs):
            return False
    return True


class _Search:
    def __init__(self, needs: Sequence[Need], skills_of: Mapping[int, frozenset[str]], order: Sequence[int]) -> None:
        self.needs, self.skills_of, self.order = needs, skills_of, order
        kinds: dict[object, int] = {}
        self.kind_of = {
            member: kinds.setdefault((skills_of[member], tuple(member in need.who for need in needs)), len(kinds))
            for member in order
        }
        self.dead: set[object] = set()

    def run(self, teams: list[set[int]]) -> list[frozenset[int]] | None:
        gap = self._first_gap(teams)
        if gap is None:
            return self._filled(teams)
        state = self._state(teams)
        if state in self.dead:
            return None
        number, skill = gap
        for member in self._candidates(teams, number, skill):
            teams[number].add(member)
            found = self.run(teams)
            if found is not None:
                return found
            teams[number].discard(member)
        self.dead.add(state)
        return None

    def _first_gap(self, teams: list[set[int]]) -> tuple[int, str] | None:
        for number, need in enumerate(self.needs):
            for skill in sorted(need.skills):
                if not any(skill in self.skills_of[member] for member in teams[number]):
                    return number, skill
        return None

    def _candidates(self, teams: list[set[int]], number: int, skill: str) -> Iterable[int]:
        """One of each kind of person: two with the same skills and the same days are as good as each other."""
        taken, tried = set().union(*teams), set()
        for member in self.order:
            free = member not in taken and member in self.needs[number].who
            if free and skill in self.skills_of[member] and self.kind_of[member] not in tried:
                tried.add(self.kind_of[member])
                yield member

    def _state(self, teams: list[set[int]]) -> object:
        """What the rest of the search depends on: skills and heads still wanted, and kinds of people used up."""
        wanted = tuple(
            (frozenset(need.skills - _skills(team, self.skills_of)), len(team))
            for need, team in zip(self.needs, teams, strict=True)
        )
        used = sorted(self.kind_of[member] for team in teams for member in team)
        return wanted, tuple(used)

    def _filled(self, teams: list[set[int]]) -> list[frozenset[int]] | None:
        """Skills are there; now the heads. Each open place is given to somebody who could come, moving others
        on where that helps (augmenting paths), so that a place stays open only if it must."""
        taken = set().union(*teams)
        spare = [member for member in self.order if member not in taken]
        places = [
            number
            for number, (need, team) in enumerate(zip(self.needs, teams, strict=True))
            for _ in range(need.people - len(team))
        ]
        holder: dict[int, int] = {}
        for place in range(len(places)):
            if not self._seat(place, places, spare, holder, set()):
                return None
        full = [set(team) for team in teams]
        for member, place in holder.items():
            full[places[place]].add(member)
        return [frozenset(team) for team in full]

    def _seat(self, place: int, places: list[int], spare: list[int], holder: dict[int, int], seen: set[int]) -> bool:
        for member in spare:
            if member in seen or member not in self.needs[places[place]].who:
                continue
            seen.add(member)
            if member not in holder or self._seat(holder[member], places, spare, holder, seen):
                holder[member] = place
                return True
        return False


def _skills(team: Iterable[int], skills_of: Mapping[int, frozenset[str]]) -> frozenset[str]:
    return frozenset().union(*(skills_of[member] for member in team))
