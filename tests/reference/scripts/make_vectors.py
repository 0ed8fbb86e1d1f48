"""Writes scipy_*.json and whole-report/ into the folder named on the command line (default: ../vectors).

python3 make_vectors.py [FOLDER]
"""

import json
import os
import sys

import numpy
import scipy

import filters
import spectra
import sway
import tremor
import trend
import whole_report

HERE = os.path.dirname(os.path.abspath(__file__))


def main():
    folder = sys.argv[1] if len(sys.argv) > 1 else os.path.join(HERE, os.pardir, "vectors")
    for module in (filters, spectra, sway, tremor, trend):
        made = {"scipy": scipy.__version__, "numpy": numpy.__version__} | module.vectors()
        with open(os.path.join(folder, f"scipy_{module.__name__}.json"), "w", encoding="utf-8") as file:
            json.dump(made, file, default=float)
            file.write("\n")
    whole_report.make(os.path.join(folder, "whole-report"))


if __name__ == "__main__":
    main()
