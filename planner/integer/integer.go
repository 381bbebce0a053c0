// Package integer minimises a whole-number program to proof: whole costs, whole
// coefficients, whole columns between bounds.
//
//	minimise Σ cost·x   where   lo ≤ Σ coef·x ≤ hi for every row,   lo ≤ x ≤ hi, x whole
//
// Method: branch and bound over linear relaxations. Each relaxation is solved by a
// dual simplex method of our own for bounded columns (sparse LU factors, dual steepest
// edge, long steps that flip boxed columns; Koberstein's thesis of 2005 describes the
// parts, from memory). Cutting planes are added at the top, branching follows
// pseudo-costs started by trial branches, and a node's bounds are narrowed by what its
// rows imply. Good plans come early from small searches near the relaxation: key columns
// rounded, or changed only where the relaxation differs from the best plan known.
//
// The simplex method reckons in floating point and may err; nothing it says is
// believed. A plan is accepted only when every row holds in whole numbers. A branch is
// closed only by a bound, or a contradiction, reckoned in whole numbers from the
// multipliers the simplex method proposes (any multipliers give a valid bound; good
// ones give a good bound: Neumaier and Shcherbina, "Safe bounds in linear and
// mixed-integer linear programming", 2004, from memory). Cutting planes are whole-number
// consequences of the rows, rounded in whole numbers. So Proven means proven, up to a
// mistake in this code; callers check plans again with code written apart.
//
// The same program with the same limit gives the same answer: there is no clock and no
// chance in here. Time is limited by Limit.Work, or by a Stop function of the caller's.
package integer

import (
	"errors"
	"fmt"
)

// Open is an end of a row that is not bounded.
const Open int64 = 1 << 40

// Col is one whole number to be chosen.
type Col struct {
	Name   string
	Lo, Hi int64 // both finite, within ±1,000,000
	Cost   int64 // of one unit
}

// Term is one coefficient of a row.
type Term struct {
	Col  int
	Coef int64
}

// Row bounds a sum of columns from both sides; an end may be Open (-Open, Open).
type Row struct {
	Name   string
	Lo, Hi int64
	Terms  []Term
	// Implied marks a row that no whole solution of the other rows breaks, or that
	// some best solution keeps: it sharpens bounds and is used only where it does.
	Implied bool
}

// Program is what Solve minimises.
type Program struct {
	Cols []Col
	Rows []Row
}

// Col adds a column and returns its number.
func (p *Program) Col(name string, lo, hi, cost int64) int {
	p.Cols = append(p.Cols, Col{name, lo, hi, cost})
	return len(p.Cols) - 1
}

// Row adds a row.
func (p *Program) Row(name string, lo, hi int64, terms ...Term) {
	p.Rows = append(p.Rows, Row{Name: name, Lo: lo, Hi: hi, Terms: terms})
}

// Imply adds an implied row.
func (p *Program) Imply(name string, lo, hi int64, terms ...Term) {
	p.Rows = append(p.Rows, Row{Name: name, Lo: lo, Hi: hi, Terms: terms, Implied: true})
}

// Limit says when to stop looking. The zero Limit looks until everything is proven.
type Limit struct {
	Work int64       // steps: pivots of the simplex method and nodes looked at; 0 for no limit
	Stop func() bool // asked now and then; true ends the search
}

// Status of an answer.
type Status int

// The ways a search ends.
const (
	Proven     Status = iota // the plan is best: no other is cheaper
	Limited                  // a limit was hit; the plan, if any, may not be the best
	Infeasible               // there is no plan at all, proven
)

// Found is one plan and how good it is.
type Found struct {
	X      []int64
	Cost   int64
	Bound  int64 // no plan (other than those listed before it) costs less
	Proven bool  // Bound equals Cost
}

// Answer is what a search found.
type Answer struct {
	Status Status
	Found  []Found // cheapest first, distinct in the key columns
	Bound  int64   // of the first: valid even when nothing was found
	Work   int64   // steps spent
	Nodes  int64
}

// Options of a search beyond its limit.
type Options struct {
	Limit
	Start [][]int64 // known plans; unusable ones are ignored
	Key   []int     // columns in which plans must differ to count as different; all when empty
	Plans int       // how many distinct plans to find, at least 1
	// Gap ends the search for the first plan as soon as cost − bound ≤ Gap parts per
	// million of cost; the status is then Limited unless they are equal. 0 proves.
	Gap int64
}

// ErrTooLarge is wrapped by the error for numbers beyond what can be reckoned exactly.
var ErrTooLarge = errors.New("number too large")

const (
	mostBound = 1_000_000
	mostCost  = 1 << 36
	mostCoef  = 1 << 30
)

func (p *Program) valid() error {
	for _, c := range p.Cols {
		if c.Lo < -mostBound || c.Hi > mostBound || c.Cost > mostCost || c.Cost < -mostCost {
			return fmt.Errorf("column %s: %w", c.Name, ErrTooLarge)
		}
	}
	for _, r := range p.Rows {
		for _, t := range r.Terms {
			if t.Coef > mostCoef || t.Coef < -mostCoef {
				return fmt.Errorf("row %s: %w", r.Name, ErrTooLarge)
			}
		}
	}
	return nil
}

// Holds says whether x keeps every bound and every row that is not implied.
func (p *Program) Holds(x []int64) bool {
	if len(x) != len(p.Cols) {
		return false
	}
	for j, c := range p.Cols {
		if x[j] < c.Lo || x[j] > c.Hi {
			return false
		}
	}
	for _, r := range p.Rows {
		if r.Implied {
			continue
		}
		var sum int64
		for _, t := range r.Terms {
			sum += t.Coef * x[t.Col]
		}
		if sum < r.Lo || sum > r.Hi {
			return false
		}
	}
	return true
}

// Cost of x.
func (p *Program) Cost(x []int64) int64 {
	var sum int64
	for j, c := range p.Cols {
		sum += c.Cost * x[j]
	}
	return sum
}
