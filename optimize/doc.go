// Package optimize holds plans, searches and the worker pool, on plain vectors in a box. It knows
// nothing of suspensions, scores or files.
//
// Plan places points by rule, Evolution searches without derivatives, Refine is many local searches of package
// leastsquares, with or without.
//
// A Stage is a plan or a search as a whole: rounds of blocks. RunBlock drives the Searcher of one
// block, Map runs the blocks of a round side by side and hands their results over in order.
// Everything a block contains follows from the stage's definition, the seed and the finished rounds,
// so the same study gives the same rows with any number of workers.
//
// Rows are equal bit for bit for one build; between processor architectures floating-point sums may
// differ in the last place, since some fuse a multiplication with an addition. Integer arithmetic
// (streams, plans, the lattice) is the same everywhere.
package optimize
