"""The house's own rules, kept by machine."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ["decor", "inventory", "jobs"]
LONGEST_MODULE = 500
LONGEST_FUNCTION = 60


def sources(*folders: str) -> list[Path]:
    return [
        path for folder in folders for path in sorted((ROOT / folder).rglob("*.py")) if "migrations" not in path.parts
    ]


def test_imports_point_one_way():
    found = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert found.returncode == 0, found.stdout + found.stderr
    assert "3 kept, 0 broken" in found.stdout


def test_an_arrow_against_the_grain_is_noticed(tmp_path):
    """The contracts must be able to fail: the same file, with one wrong import added, does."""
    import shutil

    for name in [*ROOMS, "pyproject.toml"]:
        source = ROOT / name
        copy = shutil.copytree if source.is_dir() else shutil.copy
        copy(source, tmp_path / name)
    (tmp_path / "decor/calc/wrong.py").write_text("import django\n")
    (tmp_path / "inventory/wrong.py").write_text("import jobs.models\n")
    (tmp_path / "jobs/clients/wrong.py").write_text("import jobs.desk.models\n")
    found = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert found.returncode == 1
    assert "0 kept, 3 broken" in found.stdout, found.stdout


def test_the_arithmetic_loads_no_framework():
    code = (
        "import sys, pkgutil, importlib, decor.calc as c\n"
        "[importlib.import_module(m.name) for m in pkgutil.walk_packages(c.__path__, 'decor.calc.')]\n"
        "bad = [m for m in ('django','celery','PIL','weasyprint','scipy','ortools','pandas') if m in sys.modules]\n"
        "assert not bad, bad"
    )
    found = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert found.returncode == 0, found.stderr


@pytest.mark.parametrize("path", sources(*ROOMS, "tests"), ids=lambda p: str(p.relative_to(ROOT)))
def test_rooms_are_small(path):
    text = path.read_text()
    assert text.count("\n") <= LONGEST_MODULE, f"{path} has grown past {LONGEST_MODULE} lines"
    if "tests" in path.relative_to(ROOT).parts:
        return
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) else node.body
            lines = (node.end_lineno or 0) - body[0].lineno + 1 if body else 0
            assert lines <= LONGEST_FUNCTION, f"{path}:{node.name} has {lines} lines"


def test_no_domain_signals():
    for path in sources(*ROOMS):
        assert "@receiver" not in path.read_text(), path


def test_templates_carry_no_inline_script_or_style():
    for path in sorted((ROOT / "templates").rglob("*.html")):
        if "documents" in path.parts:  # printed on paper, not served
            continue
        text = path.read_text()
        for bad in ("style=", "<style", "onclick", "onchange", "hx-on", "javascript:", "hx-vals='js:"):
            assert bad not in text, f"{path}: {bad}"


def test_every_setting_that_is_read_is_explained():
    import re

    told = (ROOT / "DEVELOPERS.md").read_text()
    read = set()
    for path in sources(*ROOMS):
        read |= set(re.findall(r'env(?:\.\w+)?\(\s*"([A-Z_]+)"', path.read_text()))
        read |= set(re.findall(r'environ(?:\.get\(|\[)"([A-Z_]+)"', path.read_text()))
    read -= {"DJANGO_SETTINGS_MODULE", "PYTEST_VERSION"}
    assert read and not [name for name in sorted(read) if name not in told]


def test_no_package_registry_is_named():
    files = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True).stdout.split("\n")
    assert len(files) > 300
    hosts = ["pypi" + ".org", "pythonhosted" + ".org", "registry.npmjs" + ".org", "index" + "-url"]
    for name in filter(None, files):
        path = ROOT / name
        if path.is_file() and path.stat().st_size < 2_000_000:
            text = path.read_text(errors="ignore")
            assert not [h for h in hosts if h in text], name


def test_styles_take_their_colours_from_one_file():
    import re

    for path in sorted((ROOT / "static/css").glob("*.css")):
        if path.name == "look.css":
            continue
        colours = set(re.findall(r"#[0-9a-fA-F]{3,8}\b", path.read_text())) - {"#fff", "#000"}
        assert not colours, f"{path.name}: {colours}"


def test_lint_and_types():
    for command in (["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"]):
        found = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True)
        assert found.returncode == 0, found.stdout[-4000:] + found.stderr[-2000:]
