package shop

import (
	"fmt"
	"slices"
	"strings"

	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// KilledAnimal is what the plant's paper says of one carcass.
type KilledAnimal struct {
	Tag       string
	Hot       unit.Weight // hot carcass weight; may be 0 for a condemned one
	Condemned bool
	Age       inspection.Cattle // of cattle; "" for any other species
}

// CheckAges lists cattle whose age nobody told, or told in words nobody knows. It is asked
// where a class cuts loins on the bone.
func CheckAges(animals []KilledAnimal, needed bool) error {
	var w Wrong
	for i, a := range animals {
		field := fmt.Sprintf("age%d", i+1)
		switch {
		case a.Age == inspection.NotAsked && needed && !a.Condemned:
			w.Add(field, "Was it 30 months or older? A class cuts its loin on the bone: ask the plant.")
		case a.Age != inspection.NotAsked && !slices.Contains(inspection.Ages, a.Age):
			w.Add(field, "Choose one of the answers.")
		}
	}
	return w.Err()
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
