// Command sightrail reduces field levels, checks what was built against design
// and tolerance, and writes the evidence. This folder holds flags, files, the
// order of work and the exit code; everything else is in the rooms convert, qa
// and formats.
package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"

	"github.com/alecthomas/kong"

	"sightrail/formats"
)

// version is set when a release is built.
var version = "dev"

// The exit codes. They only go up.
const (
	exitOK       = 0
	exitFail     = 1   // something is out of tolerance
	exitUndone   = 2   // something was not read, assessed or done; also a wrong command line
	exitInternal = 3   // a fault of the program
	exitStopped  = 130 // Ctrl-C
)

func main() {
	stop := make(chan os.Signal, 1)
	signal.Notify(stop, os.Interrupt)
	go func() {
		<-stop
		removeUnfinished()
		fmt.Fprintln(os.Stderr, "sightrail: stopped; nothing half-written is left")
		os.Exit(exitStopped)
	}()
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// program is the command line.
type program struct {
	Check   checkCmd   `cmd:"" help:"Run a job: reduce, compare, judge, and write the reports."`
	Merge   mergeCmd   `cmd:"" help:"Put the parts of a check together that several runs or machines made of one file of points."`
	Setout  setoutCmd  `cmd:"" help:"Write the set-out sheets of a job: levels, staff readings, sight rails and dig by chainage or point."`
	Reduce  reduceCmd  `cmd:"" help:"Reduce one level book and print it."`
	Convert convertCmd `cmd:"" help:"Write a file in another format."`
	Inspect inspectCmd `cmd:"" help:"Say what files are and what is odd about them."`
	Schema  schemaCmd  `cmd:"" help:"Print the JSON Schema of the job file."`
	Checks  checksCmd  `cmd:"" help:"Describe the kinds of check and their parameters."`
	Presets presetsCmd `cmd:"" help:"List published tolerances by the names that a job may use, with source and how it was seen."`
	Version versionCmd `cmd:"" help:"Print the version."`

	AllProblems bool `help:"Print every problem of a file, not the first ten."`
	Quiet       bool `short:"q" help:"Print no progress and no summary, only what is wrong."`
}

// console is where a command writes and what it was asked.
type console struct {
	in       io.Reader
	out, err io.Writer
	all      bool
	quiet    bool
	progress *progress
}

// say prints a line of diagnostics.
func (c *console) say(format string, args ...any) { fmt.Fprintf(c.err, format+"\n", args...) }

// problems prints problems, the first ten of a file.
func (c *console) problems(l []formats.Problem) {
	for _, line := range formats.Lines(l, c.all) {
		c.say("%s", line)
	}
}

// fail prints an error and returns the exit code for it.
func (c *console) fail(err error) int {
	var list formats.ErrorList
	if errors.As(err, &list) {
		c.problems(list)
		return exitUndone
	}
	c.say("sightrail: %v", err)
	return exitUndone
}

// command is what every command of program does.
type command interface{ run(*console) int }

// exited carries kong's wish to exit out of its parser.
type exited int

// run is the whole program but for the process: it returns the exit code.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) (code int) {
	defer func() {
		switch x := recover().(type) {
		case nil:
		case exited:
			code = int(x)
		default:
			removeUnfinished()
			fmt.Fprintf(stderr, "sightrail: internal error: %v\nThis is a fault of the program, not of your files. Please report it with the command, version %s and the lines below.\n%s", x, version, debug.Stack())
			code = exitInternal
		}
	}()
	var p program
	parser, err := kong.New(&p, kong.Name("sightrail"),
		kong.Description("Reduces level books and point files, checks finished surfaces and pipe inverts against design and tolerance, and writes the evidence.\n\n"+
			"Exit code: 0 everything read, assessed and within tolerance; 1 something out of tolerance; 2 something not read, not assessed or not done."),
		kong.Vars{"outputs": reportNames()}, kong.Writers(stdout, stderr), kong.Exit(func(code int) { panic(exited(code)) }), kong.UsageOnError(), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		panic(err)
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	ctx, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintf(stderr, "sightrail: %s\n", strings.TrimSpace(err.Error()))
		fmt.Fprintln(stderr, "sightrail: \"sightrail --help\" lists the commands, \"sightrail COMMAND --help\" its options")
		return exitUndone
	}
	out := bufio.NewWriterSize(stdout, 1<<16)
	c := &console{in: stdin, out: out, err: after{out, stderr}, all: p.AllProblems, quiet: p.Quiet, progress: newProgress(stderr, p.Quiet)}
	defer c.progress.wait()
	code = ctx.Selected().Target.Addr().Interface().(command).run(c)
	if err := out.Flush(); err != nil {
		c.say("sightrail: the output cannot be written: %s", reason(err))
		code = max(code, exitUndone)
	}
	return code
}

// after writes once what waits in another writer is written, so that on a terminal
// both come in the order in which they were said.
type after struct {
	first *bufio.Writer
	to    io.Writer
}

func (a after) Write(p []byte) (int, error) {
	a.first.Flush() // its error is kept, and told at the end
	return a.to.Write(p)
}

type versionCmd struct{}

func (versionCmd) run(c *console) int {
	fmt.Fprintln(c.out, "sightrail", version)
	return exitOK
}
