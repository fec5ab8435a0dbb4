"""Types into workbooks with LibreOffice, as at its keyboard, and saves them in several ways. Run by a Python that has `uno`.

    office_types.py PLAN      a JSON list of {"file", "typed": [[sheet, cell, text]], "save": [paths]}

Prints as JSON, a file: sheet -> the kinds of its checks, as LibreOffice understood them.
"""

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException

FILTERS = {".xlsx": ("Calc MS Excel 2007 XML", ""), ".ods": ("calc8", ""), ".xls": ("MS Excel 97", ""),
           ".csv": ("Text - txt - csv (StarCalc)", "44,34,76,1,,0,false,true,true,false,false,-1")}  # fmt: skip


def told(name, value):
    made = PropertyValue()
    made.Name, made.Value = name, value
    return made


def desktop(pipe, profile):
    office = subprocess.Popen(
        ["soffice", f"-env:UserInstallation=file://{profile}", "--headless", "--norestore", "--nologo", f"--accept=pipe,name={pipe};urp;"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    here = uno.getComponentContext()
    resolver = here.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", here)
    for _ in range(600):
        try:
            there = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            return office, there.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", there)
        except NoConnectException:
            time.sleep(0.2)
    raise SystemExit("LibreOffice does not answer")


def work(desk, job):
    book = desk.loadComponentFromURL(Path(job["file"]).as_uri(), "_blank", 0, (told("Hidden", True),))
    for sheet, cell, text in job["typed"]:
        book.Sheets.getByName(sheet).getCellRangeByName(cell).setFormula(text)
    checks = {}
    for name in book.Sheets.ElementNames:
        found = {}
        for text, at in ((c, book.Sheets.getByName(name).getCellRangeByName(c)) for c in job.get("look", [])):
            v = at.Validation
            found[text] = [v.Type.value, v.getFormula1(), v.ErrorAlertStyle.value, v.InputMessage, v.ErrorMessage]
        checks[name] = found
    for path in map(Path, job["save"]):
        name, options = FILTERS[path.suffix]
        book.storeToURL(path.as_uri(), (told("FilterName", name), told("FilterOptions", options)))
    book.close(True)
    return checks


with tempfile.TemporaryDirectory() as profile:
    office, desk = desktop(f"wrackline{Path(profile).name}", profile)
    try:
        print(json.dumps([work(desk, job) for job in json.loads(Path(sys.argv[1]).read_text())]))
    finally:
        try:
            desk.terminate()
        except Exception:
            office.kill()
        office.wait(60)
