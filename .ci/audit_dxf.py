"""Audits DXF files with a library that did not write them; any error or repair fails.

usage: audit_dxf.py FILE...   (pip install ezdxf==1.4.5)
"""

import sys

import ezdxf

bad = 0
for name in sys.argv[1:]:
    document = ezdxf.readfile(name)
    audit = document.audit()
    complaints = [entry.message for entry in audit.errors + audit.fixes]
    if complaints or len(document.modelspace()) == 0:
        bad += 1
        print(f"{name}: {complaints or 'empty'}")
print(f"{len(sys.argv) - 1 - bad} passed, {bad} failed")
sys.exit(1 if bad or len(sys.argv) == 1 else 0)
