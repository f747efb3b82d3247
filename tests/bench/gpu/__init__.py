"""The algebra of the deployed network on a GPU beside two processor threads: is an array namespace worth swapping?

Run: python -m tests.bench.gpu --make FILE (here: works out real inputs of 7, 19 and 37 panels with the program's code),
then on a machine with numpy and PyTorch, without the program, beside a copy of this folder: python -m gpu FILE. One
kernel, written once, runs on numpy and on PyTorch arrays: it couples panels by joint springs, factorises, propagates
misfits and steady loads, and finds the first mode, in float64. Two ways: block elimination as the program does it
(`blocks`), and one dense matrix a candidate (`dense`), which has far fewer steps to launch. Figures are held to those
of the program.

FILE holds 24 candidates of each size, assembled (plates, masses, unit rows: what the shape tables give). Larger
batches repeat them with other springs and misfits. Assembly of the shape tables, layout, stowed size and launch are
not in the kernel: --make measures what share of an evaluation they are, which bounds what a faster kernel can bring.
"""
