"""Everything that is read from a file, given inputs that nobody meant: each is a value or one `Unusable` sentence.

    python -m tests.fuzz --count 20000                  so many inputs of every kind; a table of kinds and outcomes
    python -m tests.fuzz --kinds midi,wav --seed 7      some kinds, other inputs

Inputs are made by chance from files that can be used (`seeds`): their bytes are damaged, their text is miswritten
(`mutation`), and lessons are made up that are right by construction (`invented`, written down by `written`). A kind of
input (`kinds`) knows its seeds and what has to hold once it is read; `trial` reads one and says what came of it. The
same seed gives the same inputs. The tests here run a few hundred of each; what once went wrong is kept in `cases`.
"""
