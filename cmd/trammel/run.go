package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"trammel/studies"
)

// The exit codes, as help lists them.
const (
	exitDone        = 0
	exitError       = 1
	exitUsage       = 2
	exitNoFeasible  = 3
	exitBudget      = 4
	exitInterrupted = 130
)

const exitCodes = `Exit codes:
  0    done
  1    an error of the machine: a disk that is full, a file that cannot be written
  2    wrong use, or a bad file
  3    nothing feasible: every run breaks a limit or does not assemble
  4    a budget ended the study
  130  interrupted; running again goes on`

// exit is an error that carries an exit code; its text, if any, is printed.
type exit struct {
	code int
	text string
}

func (e exit) Error() string { return e.text }

// usagef makes an error of wrong use: exit code 2.
func usagef(format string, args ...any) error {
	return exit{exitUsage, fmt.Sprintf(format, args...)}
}

// env is what a command works with besides its arguments.
type env struct {
	stdin          io.Reader
	stdout, stderr io.Writer
}

// run carries out a command line and returns its exit code. Results go to stdout; progress, and what
// went wrong, to stderr.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	root := newRoot(&env{stdin, stdout, stderr})
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	var err error
	if word := helpless(root, args); word != "" {
		err = usagef("there is no command %q; %s", word, suggest(root, word))
	} else {
		err = root.ExecuteContext(ctx)
	}
	if err == nil {
		return exitDone
	}
	if s := sentence(err.Error()); s != "" {
		fmt.Fprintln(stderr, s)
	}
	var e exit
	switch {
	case errors.As(err, &e):
		return e.code
	case studies.IsUsage(err):
		return exitUsage
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	}
	return exitError
}

// helpless returns the word of which the help is asked by a flag and which is no command; "" where there is none. Asked
// so, the library would print the help of all.
func helpless(root *cobra.Command, args []string) string {
	asked := slices.Contains(args, "--help") || slices.Contains(args, "-h")
	if !asked || strings.HasPrefix(args[0], "-") || args[0] == "help" {
		return ""
	}
	if found, _, err := root.Find(args); err != nil || found != root {
		return ""
	}
	return args[0]
}

// sentence ends a message with a full stop.
func sentence(s string) string {
	s = strings.TrimRight(s, "\n")
	if s == "" || strings.HasSuffix(s, ".") || strings.HasSuffix(s, "!") || strings.HasSuffix(s, "?") {
		return s
	}
	return s + "."
}

func newRoot(e *env) *cobra.Command {
	root := &cobra.Command{
		Use:   "trammel",
		Short: "Search wheel-suspension geometry overnight",
		Long: `trammel searches wheel-suspension geometry overnight. Give it the pickup points of an axle, how far each
may move, what the wheel and the damper should do, and what must never happen; it solves every candidate
through its whole travel, keeps every run, and says what to build.

A first try, with an invented hill-climb car:
  trammel init mycar                         writes a geometry and a study, with comments
  trammel check mycar/corncrake-front.yaml   what the geometry is
  trammel cycle mycar/corncrake-front.yaml   its curves through bump, droop and lock
  trammel run mycar/corncrake-first-night.yaml
  trammel rank mycar/corncrake-first-night.yaml

` + exitCodes + "\n\n" + studies.Caution,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Help()
			}
			return usagef("there is no command %q; %s", args[0], suggest(cmd, args[0]))
		},
	}
	root.CompletionOptions.HiddenDefaultCmd = true
	root.SetHelpCommand(&cobra.Command{
		Use: "help [COMMAND]", Short: "The help of a command",
		RunE: func(cmd *cobra.Command, args []string) error {
			found, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return usagef("there is no command %q; %s", strings.Join(args, " "), suggest(root, strings.Join(args, " ")))
			}
			return found.Help()
		},
	})
	root.SetFlagErrorFunc(flagError)
	root.AddCommand(newInit(e), newCheck(e), newCycle(e), newRun(e), newRank(e), newGather(e), newCurves(e), newExport(e), newMeasures(e), newSchema(e))
	root.AddCommand(laterCommands()...)
	return root
}

// suggest names the command that was probably meant, or all of them.
func suggest(root *cobra.Command, word string) string {
	root.SuggestionsMinimumDistance = 2
	if near := root.SuggestionsFor(word); len(near) > 0 {
		return "write " + near[0]
	}
	var names []string
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() && c.Name() != "help" {
			names = append(names, c.Name())
		}
	}
	slices.Sort(names)
	return "the commands are " + strings.Join(names, ", ")
}

// laterFlags are flags of commands to come, and what to do meanwhile.
var laterFlags = map[string]string{
	"html":  "use --format csv and a program that draws",
	"from":  "put the best points of the last night into the geometry with trammel export",
	"log":   "read the progress on the terminal",
	"place": "this build exports the design pose",
}

// flagError says in a sentence what is wrong with a flag.
func flagError(cmd *cobra.Command, err error) error {
	path := cmd.CommandPath()
	var unknown *pflag.NotExistError
	var empty *pflag.ValueRequiredError
	var wrong *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown):
		name := unknown.GetSpecifiedName()
		if later, ok := laterFlags[name]; ok {
			return usagef("--%s is not built yet; %s", name, later)
		}
		if shorthands := unknown.GetSpecifiedShortnames(); shorthands != "" {
			return usagef("%s has no flag -%s; %s --help lists its flags", path, name, path)
		}
		return usagef("%s has no flag --%s; %s --help lists its flags", path, name, path)
	case errors.As(err, &empty):
		return usagef("--%s stands without a value; write one behind it", empty.GetFlag().Name)
	case errors.As(err, &wrong):
		want := "what " + path + " --help says"
		if kind := wrong.GetFlag().Value.Type(); strings.HasPrefix(kind, "int") {
			want = "a whole number"
		}
		return usagef("--%s is %q; write %s", wrong.GetFlag().Name, wrong.GetValue(), want)
	}
	return usagef("%s: %v; %s --help lists its flags", path, err, path)
}

// laterCommands are the commands to come: known by name and refused as not built yet.
func laterCommands() []*cobra.Command {
	var out []*cobra.Command
	for _, c := range []struct{ name, instead string }{
		{"sensitivity", "run a study with plan: one-at-a-time and look at its rows"},
		{"adjust", "trammel cycle --move shows what a change of a point does"},
		{"report", "trammel rank says the answer in words"},
		{"watch", "trammel run shows how far it is, and trammel rank may be asked at any time"},
	} {
		out = append(out, &cobra.Command{
			Use: c.name, Hidden: true, DisableFlagParsing: true,
			RunE: func(*cobra.Command, []string) error {
				return usagef("trammel %s is not built yet; meanwhile, %s", c.name, c.instead)
			},
		})
	}
	return out
}

// one asks for exactly one argument.
func one(what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) == 0:
			return usagef("%s needs %s; such as: %s", cmd.CommandPath(), what, firstExample(cmd))
		case len(args) > 1:
			return usagef("%s takes %s, and %q is one too many", cmd.CommandPath(), what, args[1])
		}
		return nil
	}
}

// firstExample is the first line of a command's examples.
func firstExample(cmd *cobra.Command) string {
	line, _, _ := strings.Cut(strings.TrimSpace(cmd.Example), "\n")
	return strings.TrimSpace(line)
}

// tableFlags are how a command that lists something writes it.
type tableFlags struct {
	format, output string
}

func (f *tableFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.format, "format", "table", "table, csv, json or parquet")
	addOutput(cmd, &f.output)
}

// write writes a table where and how the flags say.
func (f *tableFlags) write(e *env, t *studies.Table) error {
	format, err := studies.ParseFormat(f.format)
	if err != nil {
		return err
	}
	if format == studies.FormatParquet && !onTerminal(f.output) {
		return t.WriteParquet(f.output)
	}
	return toFile(e, f.output, func(w io.Writer) error { return t.Write(w, format) })
}

// addOutput gives a command the flag that says where it writes.
func addOutput(cmd *cobra.Command, to *string) {
	cmd.Flags().StringVarP(to, "output", "o", "", "`FILE` to write to, in place of the terminal; - is the terminal too")
}

// onTerminal tells whether the name of an output is none, but stdout: no name, or the usual word for it.
func onTerminal(name string) bool { return name == "" || name == "-" }

// toFile calls fill with the named file, or with stdout where there is no name.
func toFile(e *env, name string, fill func(io.Writer) error) error {
	if onTerminal(name) {
		return fill(e.stdout)
	}
	return studies.WriteFile(name, fill)
}
