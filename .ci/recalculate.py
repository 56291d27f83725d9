"""Every formula of a workbook, recalculated by LibreOffice without the values
that were stored beside it, must give those values. Usage: recalculate.py FILE"""
import math
import os
import subprocess
import sys
import tempfile

import openpyxl

name = sys.argv[1]
formulas, stored = openpyxl.load_workbook(name), openpyxl.load_workbook(name, data_only=True)
with tempfile.TemporaryDirectory() as folder:
    bare = os.path.join(folder, "bare.xlsx")
    formulas.save(bare)  # formulas only: no stored value goes with them
    out = os.path.join(folder, "out")
    subprocess.run(["soffice", "-env:UserInstallation=file://" + os.path.join(folder, "profile"), "--headless",
                    "--convert-to", "xlsx", "--outdir", out, bare], check=True, stdout=subprocess.DEVNULL, timeout=120)
    again = openpyxl.load_workbook(os.path.join(out, "bare.xlsx"), data_only=True)
n = 0
for sheet in formulas:
    for row in sheet.iter_rows():
        for cell in row:
            if cell.data_type != "f":
                continue
            n += 1
            want, got = stored[sheet.title][cell.coordinate].value, again[sheet.title][cell.coordinate].value
            if want is None or got is None or not math.isclose(want, got, rel_tol=1e-12, abs_tol=1e-9):
                sys.exit(f"{sheet.title}!{cell.coordinate} {cell.value}: stored {want}, recalculated {got}")
if n == 0:
    sys.exit("no formula was found")
print(f"{n} formulas agree")
