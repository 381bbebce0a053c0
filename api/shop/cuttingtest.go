package shop

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// CuttingTest is a butcher's yield test as it was weighed. It is written once; a wrong
// one is followed by a right one.
type CuttingTest struct {
	ID         int64
	Day        unit.Day
	Name       string
	FarmID     FarmID // 0: bought elsewhere
	Species    string // as class kinds name it
	WholeSide  bool   // a whole cold side of that farm, taken apart to the last cut
	Bought     unit.Weight
	Price      unit.Money // a pound, as bought
	Parts      string     // the by-products as JSON of []carcass.TestPart
	UsableName string
	Usable     unit.Weight
	Cooked     unit.Weight
	Carving    unit.Weight
	Portion    unit.Weight
	Note       string
	MadeAt     unit.Instant
	Actor      string
}

// TableName of the record.
func (CuttingTest) TableName() string { return "cutting_tests" }

// SetParts keeps the by-products.
func (t *CuttingTest) SetParts(parts []carcass.TestPart) error {
	b, err := json.Marshal(parts)
	t.Parts = string(b)
	return err
}

// Carcass is the test as planner/carcass reckons it.
func (t CuttingTest) Carcass() (carcass.CuttingTest, error) {
	c := carcass.CuttingTest{Name: t.Name, Bought: t.Bought, Price: t.Price, Usable: t.Usable, Cooked: t.Cooked, Carving: t.Carving, Portion: t.Portion}
	if t.Parts == "" {
		return c, nil
	}
	if err := json.Unmarshal([]byte(t.Parts), &c.Parts); err != nil {
		return c, fmt.Errorf("cutting test %d: %w", t.ID, err)
	}
	return c, nil
}

// Side is the test as a side taken apart, for the farm's own shares; false when it is no
// whole side of a farm.
func (t CuttingTest) Side() (carcass.SideTest, bool) {
	c, err := t.Carcass()
	if err != nil || !t.WholeSide || t.FarmID == 0 {
		return carcass.SideTest{}, false
	}
	s := carcass.SideTest{Day: t.Day, Side: t.Bought}
	add := func(name string, w unit.Weight) {
		s.Cuts = append(s.Cuts, carcass.Cut{Name: strings.ToLower(strings.TrimSpace(name)), Weight: w})
	}
	add(t.UsableName, t.Usable)
	for _, p := range c.Parts {
		add(p.Name, p.Weight)
	}
	return s, true
}

// Check lists everything wrong with the test, by the fields of its form: parts are
// part1, weight1, price1 and so on.
func (t CuttingTest) Check() error {
	var w Wrong
	if strings.TrimSpace(t.Name) == "" || len(t.Name) > 80 {
		w.Add("name", "Say in a few words what was cut.")
	}
	if len(t.Note) > 500 || len(t.UsableName) > 80 {
		w.Add("note", "Please keep it under 500 signs.")
	}
	if t.WholeSide && (t.FarmID == 0 || strings.TrimSpace(t.UsableName) == "") {
		w.Add("whole_side", "A whole side needs its farm, and the name of the usable cut.")
	}
	c, err := t.Carcass()
	if err != nil {
		return err
	}
	var faults unit.Faults
	if !errors.As(c.Check().Err(), &faults) {
		return w.Err()
	}
	for _, f := range faults {
		w.Add(testField(f.Field), "%s.", upperFirst(f.Text))
	}
	return w.Err()
}

// testField turns "parts[1].weight" into "weight2".
func testField(field string) string {
	var n int
	var part string
	if _, err := fmt.Sscanf(field, "parts[%d].%s", &n, &part); err != nil {
		return field
	}
	if part == "name" {
		part = "part"
	}
	return fmt.Sprintf("%s%d", part, n+1)
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
