package shop

import (
	"strings"

	"flitchbook/planner/invoice"
	"flitchbook/planner/unit"
)

// Biller is who bills an order.
type Biller string

// The two who bill.
const (
	FarmBills  Biller = "farm"
	PlantBills Biller = "plant"
)

// Invoice is a bill for an order as somebody typed it in. Nothing is overwritten: a
// corrected one is a new row, and the last of each party counts.
type Invoice struct {
	ID         int64
	OrderID    OrderID
	Party      Biller
	Number     string        // as printed on it
	Day        unit.Day      // printed on it; 0 for none
	Basis      invoice.Basis // of a farm's: hot or cold weight
	Animals    int
	Weight     unit.Weight
	PriceCents unit.Money // a pound
	MeatCents  unit.Money // of a plant's: its kill fees
	HaulCents  unit.Money
	OtherCents unit.Money
	OtherWords string
	TotalCents unit.Money
	TypedAt    unit.Instant
	TypedBy    string
}

// TableName of the record.
func (Invoice) TableName() string { return "invoices" }

// Farm is the bill as planner/invoice reads a farm's.
func (i Invoice) Farm() invoice.Farm {
	return invoice.Farm{Basis: i.Basis, Animals: i.Animals, Weight: i.Weight, Price: i.PriceCents, Meat: i.MeatCents, Haul: i.HaulCents,
		Other: i.OtherCents, Words: i.OtherWords, Total: i.TotalCents}
}

// Plant is the bill as planner/invoice reads a plant's.
func (i Invoice) Plant() invoice.Plant {
	return invoice.Plant{Animals: i.Animals, Fees: i.MeatCents, Other: i.OtherCents, Words: i.OtherWords, Total: i.TotalCents}
}

// most a bill may be, above which somebody has mistyped.
const mostBill = 1_000_000_00

// Check lists everything wrong with a bill as it was typed. Whether it agrees with what
// hung is another question: a wrong bill must be typed in as it is.
func (i Invoice) Check() error {
	var w Wrong
	switch i.Party {
	case FarmBills:
		if i.Basis != invoice.Hot && i.Basis != invoice.Cold {
			w.Add("basis", "Does it name hot or cold weight? If it does not, ring the farm.")
		}
		if i.Weight <= 0 || i.Weight > 100*3000*unit.Pound {
			w.Add("weight", "Write the weight on the bill.")
		}
		if i.PriceCents <= 0 || i.PriceCents > 1000_00 {
			w.Add("price", "Write the price of a pound.")
		}
	case PlantBills:
		if i.Basis != "" || i.Weight != 0 || i.PriceCents != 0 || i.HaulCents != 0 {
			w.Add("party", "A plant bills fees: no weight, price or haul.")
		}
	default:
		w.Add("party", "Whose bill is it: the farm's or the plant's?")
	}
	if i.Animals < 0 || i.Animals > 100 {
		w.Add("animals", "Between 0 and 100 animals.")
	}
	for name, m := range map[string]unit.Money{"meat": i.MeatCents, "haul": i.HaulCents, "other": i.OtherCents, "total": i.TotalCents} {
		if m < 0 || m > mostBill {
			w.Add(name, "Between nothing and $1,000,000.")
		}
	}
	if i.OtherCents != 0 && strings.TrimSpace(i.OtherWords) == "" {
		w.Add("words", "Write what it is for, as the bill says it.")
	}
	plainText(&w, "number", i.Number, 40)
	plainText(&w, "words", i.OtherWords, 120)
	return w.Err()
}

// Slip is the order as its bills are held against it.
func (o Order) Slip(r Rules, animals []Animal, cold, usual unit.Weight, shrink unit.Ratio) invoice.Slip {
	s := invoice.Slip{Animal: AnimalOf(o.Species), Asked: o.Animals, Promised: o.Promised, Killed: len(animals), Condemned: o.Condemned,
		Delivered: o.Delivered, Usual: usual, HungCold: cold, Shrink: shrink, Price: o.PriceCents, Haul: o.HaulCents, KillFee: o.KillFee,
		Tolerances: invoice.Tolerances{Weight: r.InvoiceWeight, Shrink: r.ShrinkApart, Money: r.InvoiceMoney}}
	for _, a := range animals {
		if !a.Condemned {
			s.HungHot += a.Hot
		}
	}
	return s
}
