"""The Clube Ponta Parda: Portuguese, semicolons, decimal commas, days as 01/05/2022, Windows-1252.

Its dive log has one row for up to four bags: the first row of a dive tells of the dive too. Frames are measured in
square centimetres, stages without plants are not written, and a frame with nothing in it is one row of zero.
"""

from typing import Any

from seeds_demo.coast import PONTA_PARDA
from seeds_demo.desk import Desk
from seeds_demo.dice import Dice
from seeds_demo.diving import Told, Values
from seeds_demo.forms import Form, Hand, Part

BAGS_A_ROW = 4
_LOG = {"visit_key": "Mergulho", "happened": "Data", "site_key": "Local"}

LOG = Form(
    "diario {years}.csv",
    (
        Part(
            "visit",
            {**_LOG, "outcome": "Encontrado", "why": "Motivo", "team": "Equipa", "bottom_time_min": "Tempo no fundo (min)",
             "visibility_m": "Visibilidade (m)", "water_temp_degc": "Água (°C)", "recorded_by": "Quem"},
            only_if="Equipa",
        ),
        *(
            Part(
                "check",
                {**_LOG, "unit_key": f"Saco {n}", "state": f"Estado {n}", "search_time_min": f"Procura {n} (min)",
                 "count_found": f"Pedras {n}", "area_searched_m2": f"Área {n} (m2)"},
                only_if=f"Saco {n}",
            )
            for n in range(1, BAGS_A_ROW + 1)
        ),
    ),
    "diario*.csv",
)  # fmt: skip
COUNTS = Form(
    "contagens {years}.csv",
    (
        Part(
            "survey",
            {"visit_key": "Mergulho", "happened": "Data", "site_key": "Local", "plot_key": "Parcela",
             "frame_key": "Quadrado", "area_m2": "Área (cm2)", "species": "Espécie", "stage": "Fase", "count": "Número",
             "count_qualifier": "Exatidão", "recorded_by": "Quem"},
            units={"area_m2": "cm2"},
            fixed={"frame_type": "quadrat", "placement": "random", "protocol": "quadrats"},
        ),
    ),
    "contagens*.csv",
)  # fmt: skip
_BAG = {
    "unit_key": "Etiqueta", "method": "Método", "site_key": "Local", "plot_key": "Parcela", "down_at": "Colocado em",
    "unit_count": "Peças", "fixing": "Fixação", "batch_key": "Lote", "permit_key": "Licença", "mass_kg": "Massa (kg)",
    "material": "Material", "retrieve_by": "Recolher até",
}  # fmt: skip
BAGS = Form("sacos.csv", (Part("deployment", _BAG),))
HELP = Form("ajuda no HN.csv", (Part("deployment", _BAG),), "ajuda*.csv")
LOST = Form(
    "perdidos {years}.csv",
    (
        Part(
            "loss",
            {"unit_key": "Etiqueta", "happened": "Data", "how_known": "Como se sabe", "cause": "Causa",
             "cause_basis": "Certeza", "gear_recovered": "Material recuperado", "mass_kg": "Massa (kg)"},
        ),
    ),
    "perdidos*.csv",
)  # fmt: skip
GROUND = Form(
    "preparacao.csv",
    (
        Part(
            "treatment",
            {"happened": "Data", "site_key": "Local", "plot_key": "Parcela", "action": "Ação", "area_m2": "Área (m2)",
             "amount": "Quantidade", "amount_unit": "Unidade", "species": "Espécie", "effort_person_min": "Minutos-pessoa",
             "disposal": "Destino", "permit_key": "Licença"},
        ),
    ),
)  # fmt: skip
SPENDING = Form(
    "despesas {years}.csv",
    (
        Part(
            "cost",
            {"happened": "Data", "form": "Forma", "amount": "Valor", "currency": "Moeda", "category": "Categoria",
             "phase": "Etapa", "for_kind": "Para", "for_key": "Qual", "share_key": "Repartido por",
             "valued_by": "Avaliado por", "people": "Pessoas"},
        ),
    ),
    "despesas*.csv",
)  # fmt: skip

HAND = Hand(
    PONTA_PARDA,
    "O Clube Ponta Parda escreve em português: ponto e vírgula, vírgula decimal, dia/mês/ano.\n"
    "No diário, uma linha serve até quatro sacos; a primeira linha do mergulho descreve também o mergulho.",
    (LOG, COUNTS, BAGS, HELP, LOST, GROUND, SPENDING),
    language="pt",
    delimiter=";",
    newline="\r\n",
    encoding="cp1252",
    decimal=",",
    dates="DMY/",
    blanks=("-",),
    words={
        "why": {"mark buoy gone, searched 25 min": "boia desaparecida, 25 min de procura",
                "swell rising, turned back": "mar a crescer, voltámos"},
        "material": {"cotton and jute": "algodão e juta", "local stone": "pedra local"},
        "amount_unit": {"animals": "animais"},
        "disposal": {"composted ashore": "compostagem em terra"},
        "category": {"boat fuel": "combustível", "boat hire": "aluguer de barco", "divers": "mergulhadores",
                     "skipper and crane": "mestre e grua", "planting crew": "equipa de colocação",
                     "grazer work": "retirada de ouriços", "new fixing plate": "placa nova"},
        "outcome": {"found": "sim", "not found": "não", "aborted": "interrompido"},
        "species": {"Saccharina latissima": "laminária-doce", "Laminaria hyperborea": "laminária-do-norte"},
        "stage": {"recruit": "recruta", "juvenile": "juvenil", "sub-canopy": "intermédia", "canopy": "adulta"},
        "state": {"attached": "preso", "torn": "rasgado", "empty": "vazio", "absent": "ausente",
                  "not searched": "não procurado", "retrieved": "recolhido"},
        "count_qualifier": {"about": "cerca de"},
        "method": {"spore bag": "saco de esporos", "seeded gravel": "gravilha semeada"},
        "fixing": {"bolt": "perno", "glue": "cola", "tie": "atilho", "none": "nenhuma"},
        "how_known": {"witnessed": "visto", "adrift": "à deriva", "ashore": "na praia", "missed": "em falta"},
        "cause": {"storm": "temporal", "fixing failed": "fixação cedeu", "unknown": "desconhecida"},
        "cause_basis": {"seen": "vista", "supposed": "suposta"},
        "gear_recovered": {"yes": "sim", "no": "não"},
        "action": {"grazers removed": "ouriços retirados"},
        "form": {"cash": "dinheiro", "in kind": "em espécie", "hours": "horas"},
        "phase": {"prepare": "preparação", "deploy": "colocação", "monitor": "acompanhamento"},
        "for_kind": {"site": "local", "plot": "parcela", "deployment": "saco", "visit": "mergulho"},
    },
)  # fmt: skip


def write(told: Told, desk: Desk) -> None:
    """All of a site's rows."""
    _write_log(told, desk)
    _write_counts(told, desk)
    for row in told.deployments:
        desk.put(HAND, BAGS, row, row["down_at"].date())
    if desk.nights:
        _send_slipped(told, desk)
    for form, rows in ((LOST, told.losses), (GROUND, told.treatments)):
        for row in rows:
            desk.put(HAND, form, row, row["happened"])


def _write_log(told: Told, desk: Desk) -> None:
    for look, visit in zip(told.looks, told.visits, strict=True):
        said: list[Values] = [row for at, row in told.checks if at is look]
        rows = [said[i : i + BAGS_A_ROW] for i in range(0, len(said), BAGS_A_ROW)] or [[]]
        for nth, four in enumerate(rows):
            blank: list[Values | None] = [None] * (BAGS_A_ROW - len(four))
            desk.put(HAND, LOG, [visit if nth == 0 else None, *four, *blank], look.day)


def _write_counts(told: Told, desk: Desk) -> None:
    dice = Dice("rough", told.site.index)
    for frame in told.frames:
        look = frame.look
        base: dict[str, Any] = {
            "visit_key": look.visit_key, "happened": look.day, "site_key": look.site, "plot_key": frame.plot,
            "frame_key": frame.key, "area_m2": frame.area_m2, "recorded_by": look.by,
        }  # fmt: skip
        seen: list[tuple[str | None, str | None, int]] = [(s, stage, n) for (s, stage), n in frame.counts.items() if n]
        for species, stage, count in seen or [(None, None, 0)]:
            rough = "about" if count >= 3 and dice.chance(0.5) else None
            row = {**base, "species": species, "stage": stage, "count": count, "count_qualifier": rough}
            desk.put(HAND, COUNTS, row, look.day)


def _send_slipped(told: Told, desk: Desk) -> None:
    """The second night brings the same file with one column sorted apart from the rest: most rows would change."""
    in_order = sorted(row["fixing"] for row in told.deployments)
    for row, fixing in zip(told.deployments, in_order, strict=True):
        if fixing == row["fixing"]:
            desk.write(HAND, BAGS, row, 2, repeated=1)
        else:
            desk.write(HAND, BAGS, {**row, "fixing": fixing}, 2, held=1, why="amends much")
