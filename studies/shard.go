package studies

import (
	"fmt"
	"strconv"
	"strings"
)

// Shard is one of several runs that share the blocks of a study between them: number Index of Of. The
// zero value takes all of them.
type Shard struct {
	Index, Of int // Index counts from 1
}

// part returns which of n blocks of a round are this shard's: from and up to, without to.
func (s Shard) part(n int) (from, to int) {
	if s.Of < 1 {
		return 0, n
	}
	share := func(i int) int { return int(int64(n) * int64(i) / int64(s.Of)) }
	return share(s.Index - 1), share(s.Index)
}

// maxShards keeps a slip of the pen from making a study of crumbs.
const maxShards = 100_000

// ParseShard reads a shard as it is typed: 2/4, or env, which asks the environment of a job array for
// the number, and env/4 where that does not say how many there are.
func ParseShard(text string, env func(string) string) (Shard, error) {
	index, of, found := strings.Cut(text, "/")
	if index != "env" {
		i, err1 := strconv.Atoi(index)
		n, err2 := strconv.Atoi(of)
		if err1 != nil || err2 != nil || !found {
			return Shard{}, usagef("--shard is %q; write 2/4 for the second of four, or env in a job array", text)
		}
		return checkShard(Shard{i, n})
	}
	s, err := shardOfArray(env)
	if err != nil {
		return Shard{}, err
	}
	if found {
		if s.Of, err = strconv.Atoi(of); err != nil {
			return Shard{}, usagef("--shard is %q; write env/4 for an array of four", text)
		}
	}
	if s.Of == 0 {
		return Shard{}, usagef("the environment says that this is number %d of an array and not how many there are; write --shard env/4 for four", s.Index)
	}
	return checkShard(s)
}

func checkShard(s Shard) (Shard, error) {
	if s.Of < 1 || s.Of > maxShards || s.Index < 1 || s.Index > s.Of {
		return Shard{}, usagef("shard %d of %d cannot be; the first of four is 1/4 and the last 4/4", s.Index, s.Of)
	}
	return s, nil
}

// shardOfArray reads which job of an array this is. Sources: the manual of Slurm's sbatch, "Job Array
// Support" and its output environment variables; the documentation of Kubernetes, "Indexed Job".
func shardOfArray(env func(string) string) (Shard, error) {
	number := func(name string, otherwise int) (int, error) {
		text := env(name)
		if text == "" {
			return otherwise, nil
		}
		n, err := strconv.Atoi(text)
		if err != nil {
			return 0, usagef("%s is %q in the environment; it should be a whole number", name, text)
		}
		return n, nil
	}
	switch {
	case env("SLURM_ARRAY_TASK_ID") != "":
		id, err1 := number("SLURM_ARRAY_TASK_ID", 0)
		low, err2 := number("SLURM_ARRAY_TASK_MIN", 1)
		step, err3 := number("SLURM_ARRAY_TASK_STEP", 1)
		count, err4 := number("SLURM_ARRAY_TASK_COUNT", 0)
		for _, err := range []error{err1, err2, err3, err4} {
			if err != nil {
				return Shard{}, err
			}
		}
		if step < 1 {
			step = 1
		}
		return Shard{(id-low)/step + 1, count}, nil
	case env("JOB_COMPLETION_INDEX") != "":
		i, err := number("JOB_COMPLETION_INDEX", 0)
		return Shard{i + 1, 0}, err
	}
	return Shard{}, usagef("--shard env finds neither SLURM_ARRAY_TASK_ID nor JOB_COMPLETION_INDEX in the environment; write --shard 2/4 for the second of four")
}

// dirOf returns the study folder of a shard, beside that of the whole.
func (s Shard) dirOf(dir string) string {
	if s.Of < 1 {
		return dir
	}
	return fmt.Sprintf("%s-shard-%d-of-%d", dir, s.Index, s.Of)
}
