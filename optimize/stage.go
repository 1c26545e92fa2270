package optimize

// Limits of the numbering of runs.
const (
	BlockRows   = 100_000     // rows that a block can have
	StageBlocks = 100_000_000 // blocks that a stage can have
)

// Stage is a sequence of rounds, and a round is a fixed list of blocks that may be run in any order and
// side by side. What a block contains depends only on the stage's definition, the seed and the finished
// rounds before it.
//
// A Stage is used from one goroutine, except that Start may be called from several at a time as long as
// Meet is not, and that the searchers it started are independent of it and of each other.
type Stage interface {
	// Name returns the word the study file uses for what the stage does.
	Name() string

	// Blocks returns how many blocks a round has; 0 means that the stage ended with the round before.
	// It is known for every round from the start.
	Blocks(round int) int

	// Budget returns how many rows a block may have at most.
	Budget(round, block int) int

	// Start makes the searcher of a block, counted from 0 within its round. Rounds after the first
	// need the Meet of the round before.
	Start(round, block int) Searcher

	// Meet is told that all blocks of a round have finished: states holds what AppendState gave for
	// each at its end, in order of blocks. Everything that later rounds need is in the states of the
	// last finished round, so a resumed stage is told of that one alone.
	Meet(round int, states [][]byte) error

	// Runs returns how many rows the stage will have in all, 0 if that is not known.
	Runs() int64
}

// BlockIndex returns the number of a block counted through the whole stage.
func BlockIndex(s Stage, round, block int) int64 {
	n := int64(block)
	for r := range round {
		n += int64(s.Blocks(r))
	}
	return n
}

// RunNumber returns the number of a run in the record: stage·10¹³ + block·10⁵ + index, where block is
// counted through the stage and index within the block. Below stage 900 it is less than 2⁵³.
func RunNumber(stage int, block int64, index int) int64 {
	return int64(stage)*BlockRows*StageBlocks + block*BlockRows + int64(index)
}
