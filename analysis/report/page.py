"""From sections to one self-contained HTML text."""
# SPDX-License-Identifier: GPL-2.0-or-later

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from plotly.io import to_json
from plotly.offline import get_plotlyjs

from analysis.basics.own_files import own_text
from analysis.report.blocks import Chart, Section
from analysis.report.contents import Provenance, ReportContents
from analysis.report.in_short import in_short
from analysis.report.sections import make_sections
from analysis.words.sentences import typeset

_HTML_IN_JSON = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})


def render_page(contents: ReportContents) -> str:
    """Make the whole page; every text of the results is escaped."""
    compared, drive = contents.comparison, contents.findings.drive_name
    what, title = "Exhaust drone report", drive
    if compared is not None:
        what = "The drive before the work (baseline) against the one after it (post-fix)"
        title = f"{compared.baseline_name} against {compared.postfix_name}"
    return render_sections(
        what=what,
        title=title,
        sections=make_sections(contents),
        description=in_short(contents),
        sheet=(("Drive", drive), *provenance_rows(contents.provenance)),
    )


def render_sections(
    *,
    what: str,
    title: str,
    sections: tuple[Section, ...],
    sheet: tuple[tuple[str, str], ...],
    description: str = "",
) -> str:
    """Make a page of sections; ``what`` names the kind of page, ``sheet`` is its title block.

    ``description`` is not shown, but read by whoever lists pages.
    """
    # a misspelt field stops the page: it would leave a hole that nobody sees
    environment = Environment(
        loader=PackageLoader("analysis.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["typeset"] = typeset
    environment.filters["kind"] = lambda block: type(block).__name__.lower()
    # what draws charts is 4 MB, which a page without any need not carry
    has_charts = any(isinstance(block, Chart) for section in sections for block in section.blocks)
    return environment.get_template("page.html.j2").render(
        what=what,
        title=title,
        sections=sections,
        sheet=sheet,
        description=description,
        style=_asset("style.css"),
        page_script=_asset("page.js"),
        draw_script=_asset("draw.js"),
        plotly_script=Markup(get_plotlyjs()) if has_charts else "",
        chart_json=chart_json,
        as_markup=Markup,
    )


def provenance_rows(made: Provenance) -> tuple[tuple[str, str], ...]:
    """Who made the page, when, with what, as (label, value)."""
    return (
        ("Inputs", ", ".join(made.inputs)),
        ("Made", made.made_at_utc.strftime("%Y-%m-%d %H:%M UTC")),
        ("pipenote", made.software_version),
        ("Command", made.command),
        ("With", ", ".join(f"{name} {version}" for name, version in made.versions)),
    )


def chart_json(chart: Chart) -> Markup:
    """Serialize a figure as JSON that cannot end the script element it sits in."""
    text = to_json(chart.figure, validate=False)
    return Markup(str(text).translate(_HTML_IN_JSON))


def _asset(name: str) -> Markup:
    """Take a file of our own as it is: it holds no text from outside."""
    return Markup(own_text("analysis.report", f"templates/{name}"))
