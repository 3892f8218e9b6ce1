"""What a member can do, in the crew's own words."""

from collections.abc import Iterable

from jobs.crew.models import SKILLS

ORDER = [key for key, _ in SKILLS]
WORDS = dict(SKILLS)
# The arithmetic asks for a ladder apart from the rigging; one tick on a member's page stands for both.
STANDS_FOR = {"ladder": "rig"}


def crew_skills(names: Iterable[str]) -> list[str]:
    """As the crew keeps them, in one order, each once. Raises ValueError naming a skill that nobody can have."""
    known = {STANDS_FOR.get(name, name) for name in names}
    strange = sorted(known - set(ORDER))
    if strange:
        raise ValueError(f"skills: there is no skill called {strange[0]}")
    return [key for key in ORDER if key in known]


def skill_words(names: Iterable[str]) -> str:
    """Load panels, drive the van"""
    words = [WORDS[name].lower() for name in names if name in WORDS]
    text = ", ".join(words)
    return text[:1].upper() + text[1:]
