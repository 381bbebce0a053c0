package api

import (
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// Sealing is the seal order of a class and how far it is.
type Sealing struct {
	Class   string     `json:"class"`
	Of      int        `json:"of" doc:"Slabs of the class."`
	Cut     int        `json:"cut"`
	Kitted  int        `json:"kitted"`
	Sealed  int        `json:"sealed"`
	Missing []string   `json:"missing" doc:"Not sealed; the class is not closed out before they are."`
	Kept    []string   `json:"kept" doc:"Of people who missed the class; they wait with their kits."`
	Turns   []SealTurn `json:"turns"`
}

// SealTurn is one cycle of the sealer.
type SealTurn struct {
	From   unit.Instant `json:"from"`
	Until  unit.Instant `json:"until"`
	Minute int          `json:"minute" doc:"Of the class, in which it begins."`
	Bags   []SealBag    `json:"bags"`
}

// SealBag is one bag of a turn.
type SealBag struct {
	Tag    string         `json:"tag"`
	State  shop.SlabState `json:"state"`
	Sealed bool           `json:"sealed"`
	Kept   bool           `json:"kept,omitempty"`
}

type sealingOutput struct{ Body Sealing }

func sealingFrom(s *store.SealSheet) Sealing {
	out := Sealing{Class: s.Code, Of: s.Of, Cut: s.Cut, Kitted: s.Kitted, Sealed: s.Sealed, Missing: append([]string{}, s.Missing...), Kept: append([]string{}, s.Kept...), Turns: []SealTurn{}}
	for _, t := range s.Turns {
		turn := SealTurn{From: t.From, Until: t.Until, Minute: t.Minute}
		for _, b := range t.Bags {
			turn.Bags = append(turn.Bags, SealBag(b))
		}
		out.Turns = append(out.Turns, turn)
	}
	return out
}
