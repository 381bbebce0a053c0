// Flitchbook runs the bookings, meat, cures, smoke days and messages of a butcher's
// shop that teaches.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata"

	"github.com/alecthomas/kong"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Environ())
	stop()
	os.Exit(code)
}

// A program is one run: what came from outside, so that tests can run it whole.
type program struct {
	ctx    context.Context
	in     io.Reader
	out    io.Writer
	err    io.Writer
	env    map[string]string
	now    func() time.Time // the wall clock
	random io.Reader
}

type commands struct {
	Demo    demoCmd    `cmd:"" help:"Open the invented shop, on a temporary database, with a clock that can be moved."`
	Clock   clockCmd   `cmd:"" help:"Move the clock of a running demo."`
	Serve   serveCmd   `cmd:"" help:"Answer customers and staff until stopped."`
	Migrate migrateCmd `cmd:"" help:"Bring the database to the newest shape."`
	User    userCmd    `cmd:"" help:"The people who sign in."`
	Furnish furnishCmd `cmd:"" help:"Set the shop up from one document."`
	Check   checkCmd   `cmd:"" help:"Check what must always hold in a live database."`
	Backup  backupCmd  `cmd:"" help:"Copy the database to a file while it is in use."`
	Restore restoreCmd `cmd:"" help:"Bring a backup back as the database."`
	Export  exportCmd  `cmd:"" help:"Take all records out into open files."`
	Import  importCmd  `cmd:"" help:"Read them into an empty database of either kind."`
	Reckon  reckonCmd  `cmd:"" help:"Reckon one question without a database: JSON in, JSON out."`

	Version kong.VersionFlag `help:"Print the version and stop."`
}

// An exitCode ends the program with a code of its own; what there is to say was said.
type exitCode int

func (e exitCode) Error() string { return fmt.Sprintf("exit %d", int(e)) }

// run is the program: 0 when all went well, 1 when it did not, 2 when it was asked
// wrongly. env is a list of NAME=value.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer, env []string) (code int) {
	p := &program{ctx: ctx, in: in, out: out, err: errOut, env: map[string]string{}, now: wallClock, random: randomBytes}
	for _, line := range env {
		if name, value, ok := strings.Cut(line, "="); ok {
			p.env[name] = value
		}
	}
	defer func() { // kong leaves by its exit function when it has printed help
		if e, ok := recover().(exitCode); ok {
			code = int(e)
		}
	}()
	var c commands
	parser, err := kong.New(&c,
		kong.Name("flitchbook"),
		kong.Description("Bookings, meat, cures, smoke days and messages of a butcher's shop that teaches.\n\nEvery option can be given as a variable too: --base-url is FLITCHBOOK_BASE_URL."),
		kong.Writers(out, errOut),
		kong.Exit(func(n int) { panic(exitCode(n)) }),
		kong.Vars{"version": version()},
		kong.Resolvers(kong.ResolverFunc(p.resolve)),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100}),
		kong.ValueFormatter(withVariable),
		kong.Bind(p),
	)
	if err != nil {
		fmt.Fprintln(errOut, "flitchbook:", err)
		return 1
	}
	k, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintln(errOut, "flitchbook:", err)
		return 2
	}
	err = k.Run(p)
	var own exitCode
	switch {
	case err == nil:
		return 0
	case errors.As(err, &own):
		return int(own)
	}
	fmt.Fprintln(errOut, "flitchbook:", err)
	if errors.As(err, new(settingsError)) {
		return 2
	}
	return 1
}

// resolve reads --base-url from FLITCHBOOK_BASE_URL.
func (p *program) resolve(_ *kong.Context, _ *kong.Path, flag *kong.Flag) (any, error) {
	v, ok := p.env[variable(flag.Name)]
	if !ok {
		return nil, nil
	}
	return v, nil
}

// withVariable adds the variable's name to an option's help.
func withVariable(v *kong.Value) string {
	help := kong.DefaultHelpValueFormatter(v)
	if v.Flag == nil || v.Name == "help" || v.Name == "version" {
		return help
	}
	return strings.TrimSuffix(help, ".") + " ($" + variable(v.Name) + ")."
}

func variable(flag string) string {
	return "FLITCHBOOK_" + strings.ToUpper(strings.ReplaceAll(flag, "-", "_"))
}

// version is the release and, for a build from a checkout, its revision.
func version() string {
	b, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := b.Main.Version
	for _, s := range b.Settings {
		if s.Key == "vcs.revision" && (v == "" || v == "(devel)") {
			v = s.Value
		}
	}
	if v == "" {
		v = "(devel)"
	}
	return v + " " + b.GoVersion
}
