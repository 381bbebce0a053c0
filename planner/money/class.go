package money

import (
	"fmt"

	"flitchbook/planner/unit"
)

// ClassCosts are what a class costs besides its seats (R42 of the demo shop).
type ClassCosts struct {
	Skinless  unit.Money `json:"skinless"`   // a pound of slab
	SkinOn    unit.Money `json:"skin_on"`    // a pound of slab with its skin
	Goods     unit.Money `json:"goods"`      // a slab: cure, spices, bag, labels
	WorkMin   int        `json:"work_min"`   // minutes a slab after the class: rinse, hang, smoke, pack
	WorkHour  unit.Money `json:"work_hour"`  //
	TeachMin  int        `json:"teach_min"`  // minutes of whoever teaches
	TeachHour unit.Money `json:"teach_hour"` //
	HelpMin   int        `json:"help_min"`   // minutes of whoever helps
	HelpHour  unit.Money `json:"help_hour"`  //
}

// Income is one source of a class's money.
type Income struct {
	Name  string
	Cents unit.Money
	Why   string
}

// SlabWeight is one slab of a class, or several planned alike.
type SlabWeight struct {
	Weight unit.Weight
	SkinOn bool
	Count  int // 0 counts as 1
}

// ClassLine is a line of a class's account.
type ClassLine struct {
	Name   string
	Cents  unit.Money // above zero in, below zero out
	Why    string
	Income bool // belongs to what the class brings, even below zero: a voucher that brought less than its seat
}

// ClassAccount is what a class brings and costs.
type ClassAccount struct {
	Lines  []ClassLine
	Income unit.Money
	Cost   unit.Money // above zero
	Margin unit.Money
	Seats  int        // it is spread over: slab seats or guests
	ASeat  unit.Money // cost of one seat; 0 without seats
	AShare unit.Ratio // margin as a share of income; 0 without income
}

// Account works out a class: income less meat by the slab's price, goods, after-work and
// the labour of the class. extra are meat lines of another kind (a clinic's dinner or
// half), below zero. Each line is rounded to the cent once; the margin is the sum of the
// lines as shown.
func Account(income []Income, slabs []SlabWeight, seats int, c ClassCosts, extra ...ClassLine) ClassAccount {
	a := ClassAccount{Seats: seats}
	for _, i := range income {
		a.add(ClassLine{i.Name, i.Cents, i.Why, true})
	}
	var off, on unit.Weight
	n := 0
	for _, s := range slabs {
		count := max(s.Count, 1)
		n += count
		if s.SkinOn {
			on += s.Weight * unit.Weight(count)
		} else {
			off += s.Weight * unit.Weight(count)
		}
	}
	for _, m := range []struct {
		word  string
		w     unit.Weight
		price unit.Money
	}{{"Belly, skinless", off, c.Skinless}, {"Belly, skin on", on, c.SkinOn}} {
		if m.w > 0 {
			a.add(ClassLine{Name: m.word, Cents: -m.price.PerPound(m.w), Why: fmt.Sprintf("%s at %s a pound, demo included", m.w.LB(), m.price)})
		}
	}
	if n > 0 {
		a.add(ClassLine{Name: "Goods", Cents: -c.Goods * unit.Money(n), Why: fmt.Sprintf("%d slabs at %s", n, c.Goods)})
		a.add(ClassLine{Name: "After-work", Cents: -wage(c.WorkMin*n, c.WorkHour), Why: fmt.Sprintf("%d slabs × %d min at %s an hour", n, c.WorkMin, c.WorkHour)})
	}
	for _, l := range extra {
		a.add(l)
	}
	a.add(ClassLine{Name: "Teaching", Cents: -wage(c.TeachMin, c.TeachHour), Why: fmt.Sprintf("%d min at %s an hour", c.TeachMin, c.TeachHour)})
	a.add(ClassLine{Name: "Helping", Cents: -wage(c.HelpMin, c.HelpHour), Why: fmt.Sprintf("%d min at %s an hour", c.HelpMin, c.HelpHour)})
	if seats > 0 {
		a.ASeat = unit.Money(unit.MulDiv(int64(a.Cost), 1, int64(seats), unit.HalfUp))
	}
	if a.Income > 0 {
		a.AShare = unit.Ratio(unit.MulDiv(int64(a.Margin), int64(unit.One), int64(a.Income), unit.HalfUp))
	}
	return a
}

func (a *ClassAccount) add(l ClassLine) {
	if l.Cents == 0 {
		return
	}
	a.Lines = append(a.Lines, l)
	if l.Income {
		a.Income += l.Cents
	} else {
		a.Cost -= l.Cents
	}
	a.Margin += l.Cents
}

func wage(minutes int, hour unit.Money) unit.Money {
	return unit.Money(unit.MulDiv(int64(hour), int64(minutes), 60, unit.HalfUp))
}
