package order_test

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/integer"
	"flitchbook/planner/order"
	"flitchbook/planner/steadytest"
)

// A solver from outside reads the same program and finds the same cost: shops with
// every rule there is, and whole invented seasons.
func TestSolveAgreesWithCBC(t *testing.T) {
	if _, err := exec.LookPath("cbc"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("cbc is missing (Debian: coinor-cbc)")
		}
		t.Skip("LEFT OUT: no cbc here (Debian: coinor-cbc), so plans are not compared with a solver from outside")
	}
	file := filepath.Join(t.TempDir(), "p.lp")
	// compare says whether there was a plan to compare.
	compare := func(t interface{ Fatalf(string, ...any) }, p order.Problem) bool {
		a, err := order.Solve(p, order.Options{Limit: integer.Limit{Work: 400_000}})
		lp, unfed := order.LP(p)
		if unfed != nil {
			if fmt.Sprint(err) != fmt.Sprint(unfed) {
				t.Fatalf("%v, then %v", unfed, err)
			}
			return false
		}
		if err := os.WriteFile(file, lp, 0o600); err != nil {
			t.Fatalf("%v", err)
		}
		cost, found := cbc(t, file)
		switch {
		case errors.Is(err, order.ErrNoPlan) && !found.plan:
			return false
		case err != nil:
			t.Fatalf("%v; cbc %s %+v", err, cost, found)
		case a.Status != order.Proven || !found.plan || cost != a.Cost:
			t.Fatalf("%s %s; cbc %s %+v", a.Status, a.Cost, cost, found)
		}
		return true
	}
	steadytest.Runs(t, "80")
	fed := 0
	rapid.Check(t, func(t *rapid.T) {
		if compare(t, drawProblem(t, 9, 7)) {
			fed++
		}
	})
	for seed := range 8 {
		if compare(t, invented(100+seed, 12+2*seed, 4, 7)) {
			fed++
		}
	}
	if fed < 20 {
		t.Errorf("only %d shops could be fed", fed)
	}
}
