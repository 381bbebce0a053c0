// Package steadytest gives property tests a number of runs and always the same ones. It is
// for tests only, and sets the flags of the property library by their names.
package steadytest

import (
	"flag"
	"strconv"
	"testing"
)

// Runs makes a property run so many times from one seed until the test ends, unless the
// caller asked for others on the command line.
func Runs(t testing.TB, runs string) { t.Helper(); set(t, map[string]string{"rapid.checks": runs}) }

// Steps is Runs for a property of random commands, so many each.
func Steps(t testing.TB, runs, steps string) {
	t.Helper()
	set(t, map[string]string{"rapid.checks": runs, "rapid.steps": steps})
}

func set(t testing.TB, flags map[string]string) {
	t.Helper()
	flags["rapid.seed"] = "1"
	asked := map[string]bool{}
	flag.Visit(func(f *flag.Flag) { asked[f.Name] = true })
	for name, v := range flags {
		if asked[name] {
			continue
		}
		// -short leaves out browsers here; the library would also cut the runs, and a test
		// that counts what its random commands came to would find too little.
		if by := map[string]int{"rapid.checks": 5, "rapid.steps": 2}[name]; by > 0 && testing.Short() {
			n, err := strconv.Atoi(v)
			if err != nil {
				t.Fatalf("%s=%s: %v", name, v, err)
			}
			v = strconv.Itoa(n * by)
		}
		f := flag.Lookup(name)
		if f == nil {
			t.Fatalf("there is no flag %s: does the test import the property library?", name)
		}
		old := f.Value.String()
		if err := f.Value.Set(v); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := f.Value.Set(old); err != nil {
				t.Error(err)
			}
		})
	}
}
