// Package files reads the two files a builder writes, geometry and study, and writes geometry again.
//
// A file becomes a YAML node tree, and one walk of our own turns the tree into typed values. The walk
// never stops at the first mistake: it gathers every Problem, each with file, line and column, what is
// wrong and what would be right. Words that are not known are answered with the right one where it is
// near or where a builder's other word for it was used; words that are planned but not built are
// refused by name. Nothing is dropped, clamped or guessed.
//
// Lengths stay what the builder wrote: whole numbers of 0.001 mm, or of 0.0001 in in an inch file
// (see Unit). Millimetres, ISO 8855 axes and the left side of the car are what Geometry.Linkage makes
// of them. The tables of keys that drive the walk also make the JSON Schemas.
//
// A geometry file draws one side. What stands under members exists on both sides, what stands under across
// exists once, and there a name of what exists on both sides begins with its side: left.rocker. Which bodies
// and members there are is surveyed before any is read, so that they may stand in any order.
//
// The package opens no files: whoever calls it hands in a ReadFile.
package files
