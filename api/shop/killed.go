package shop

import (
	"fmt"
	"strings"

	"flitchbook/planner/unit"
)

// KilledAnimal is what the plant's paper says of one carcass.
type KilledAnimal struct {
	Tag       string
	Hot       unit.Weight // hot carcass weight; may be 0 for a condemned one
	Condemned bool
}

// CheckKilled lists everything wrong with a kill paper. usual is the farm's usual
// hanging weight, which a typing slip stands far from.
func CheckKilled(animals []KilledAnimal, usual unit.Weight) error {
	var w Wrong
	if len(animals) == 0 || len(animals) > 100 {
		w.Add("animals", "Write down between 1 and 100 animals.")
	}
	seen := map[string]bool{}
	for i, a := range animals {
		tag := strings.ToUpper(strings.TrimSpace(a.Tag))
		if len(tag) > 40 {
			w.Add(fmt.Sprintf("tag%d", i+1), "That tag is too long.")
		}
		if tag != "" && seen[tag] {
			w.Add(fmt.Sprintf("tag%d", i+1), "The tag %s stands there twice.", a.Tag)
		}
		seen[tag] = true
		if a.Condemned && a.Hot == 0 {
			continue
		}
		if text := implausible(a.Hot, usual); text != "" {
			w.Add(fmt.Sprintf("hot%d", i+1), "%s", text)
		}
	}
	return w.Err()
}

// implausible says why a weight cannot be right, or "": a quarter to double of what is
// usual is taken.
func implausible(got, usual unit.Weight) string {
	switch {
	case got <= 0:
		return "A weight above zero, please."
	case usual > 0 && (got < usual/4 || got > 2*usual):
		return fmt.Sprintf("%s is far from the usual %s: look at the scale again.", got.LB(), usual.LB())
	}
	return ""
}

// DeliveredSide is one side as it hangs in the shop.
type DeliveredSide struct {
	Animal int    // its number within the order
	Which  string // "L" or "R"
	Cold   unit.Weight
}

// CheckDelivered lists everything wrong with the sides of a delivery. hot gives each
// animal's hot carcass weight, in which two cold sides must find room; usual is the
// farm's usual cold side.
func CheckDelivered(sides []DeliveredSide, animals []Animal, usual unit.Weight) error {
	var w Wrong
	byNumber := map[int]Animal{}
	for _, a := range animals {
		byNumber[a.Number] = a
	}
	type key struct {
		animal int
		which  string
	}
	seen, sum := map[key]bool{}, map[int]unit.Weight{}
	for _, s := range sides {
		field := fmt.Sprintf("side%d%s", s.Animal, s.Which)
		a, ok := byNumber[s.Animal]
		switch {
		case s.Which != "L" && s.Which != "R":
			w.Add(field, "A side is L or R.")
		case !ok:
			w.Add(field, "The order has no animal number %d.", s.Animal)
		case a.Condemned:
			w.Add(field, "Animal %d was condemned: its meat may not come in.", s.Animal)
		case seen[key{s.Animal, s.Which}]:
			w.Add(field, "Side %s of animal %d stands there twice.", s.Which, s.Animal)
		default:
			if text := implausible(s.Cold, usual); text != "" {
				w.Add(field, "%s", text)
			}
		}
		seen[key{s.Animal, s.Which}] = true
		sum[s.Animal] += s.Cold
		if ok && a.Hot > 0 && sum[s.Animal] > a.Hot.MulDiv(1005, 1000) {
			w.Add(field, "The two cold sides weigh %s, the carcass weighed %s hot: weigh again.", sum[s.Animal].LB(), a.Hot.LB())
		}
	}
	for _, a := range animals {
		l, r := seen[key{a.Number, "L"}], seen[key{a.Number, "R"}]
		switch {
		case l && !r:
			w.Add(fmt.Sprintf("side%dR", a.Number), "The other side's weight is missing.")
		case r && !l:
			w.Add(fmt.Sprintf("side%dL", a.Number), "The other side's weight is missing.")
		}
	}
	if len(sides) == 0 {
		w.Add("sides", "Write down the weight of at least one animal's sides.")
	}
	return w.Err()
}

// SlipMoney is the three lines an order is paid by.
type SlipMoney struct {
	Farm  unit.Money // hot weight of what was not condemned × price (R23a)
	Plant unit.Money // kill fee of every animal killed, condemned included
	Haul  unit.Money // of animals delivered
	Hot   unit.Weight
	Total unit.Money
}

// Money reckons the slip. Before the kill it is an estimate from the animals promised
// or asked for and the usual weight.
func (o Order) Money(animals []Animal, usual unit.Weight) SlipMoney {
	var m SlipMoney
	if len(animals) == 0 {
		n := o.Animals
		if o.AnsweredAt != 0 {
			n = o.Promised
		}
		m.Hot = usual * unit.Weight(n)
		m.Plant, m.Haul = o.KillFee*unit.Money(n), o.HaulCents*unit.Money(n)
	}
	for _, a := range animals {
		m.Plant += o.KillFee
		if a.Condemned {
			continue
		}
		m.Hot += a.Hot
		if a.DeliveryID != 0 || o.State == Killed {
			m.Haul += o.HaulCents
		}
	}
	m.Farm = o.PriceCents.PerPound(m.Hot)
	m.Total = m.Farm + m.Plant + m.Haul
	return m
}
