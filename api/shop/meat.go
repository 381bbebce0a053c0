package shop

import "flitchbook/planner/demand"

// FedBy says what of an animal a kind of class is fed with, or false when it needs no
// animal.
func (k ClassKind) FedBy() (demand.Unit, bool) {
	switch k.Piece {
	case "belly":
		return demand.Belly, true
	case "half":
		return demand.Half, true
	case "hindquarter":
		return demand.Hindquarter, true
	case "whole":
		return demand.Whole, true
	}
	return 0, false
}

// Calls is the class's call on the animals of an order (R17): seats held and firm count
// as sold, and every seat may still be sold.
func (r Rules) Calls(c Class, k ClassKind, second, expected int) (demand.Class, bool) {
	u, ok := k.FedBy()
	if !ok {
		return demand.Class{}, false
	}
	d := demand.Class{Code: c.Code, Unit: u, Day: c.Day,
		Seats: demand.Seats{Sold: c.SeatsTaken, Expected: min(max(expected, c.SeatsTaken), c.Seats), Full: c.Seats}}
	if u == demand.Belly {
		d.Second, d.Demo = second, c.DemoSlabs
	} else {
		d.PerUnit = r.PerHalf
		if k.PerUnit > 0 {
			d.PerUnit = k.PerUnit
		}
	}
	return d, true
}

// FarmAnswer is what a farm says to an order.
type FarmAnswer struct {
	Says    string // "yes", "fewer" or "no"
	Animals int    // with "fewer": how many it can bring
	Words   string // anything it wants to add
}

// Check lists everything wrong with an answer to an order of so many animals.
func (a FarmAnswer) Check(asked int) error {
	var w Wrong
	switch a.Says {
	case "yes", "no":
	case "fewer":
		if a.Animals < 1 || a.Animals >= asked {
			w.Add("animals", "Fewer than %d, and at least 1: or answer yes or no.", asked)
		}
	default:
		w.Add("answer", "Choose one of the answers.")
	}
	if len(a.Words) > 1000 {
		w.Add("words", "Please keep it under 1,000 signs.")
	}
	return w.Err()
}

// Promises is how many animals the answer promises.
func (a FarmAnswer) Promises(asked int) int {
	switch a.Says {
	case "yes":
		return asked
	case "fewer":
		return a.Animals
	}
	return 0
}
