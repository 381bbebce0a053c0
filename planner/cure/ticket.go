package cure

import (
	"flitchbook/planner/unit"
)

// The steps dry goods are weighed out in, halves up.
const (
	GoodsStep = unit.Gram      // salt, sugar, spice
	CureStep  = unit.Gram / 10 // curing salt
)

// A Recipe is a dry cure as shares of the meat under the skin, and the limit it is
// made under.
type Recipe struct {
	Name       string
	Salt       unit.Ratio // plain salt; the salt inside the curing salt comes on top
	Sugar      unit.Ratio
	CuringSalt unit.Ratio
	Limit      Limit
}

// HouseRecipe is the shop's dry cure (house rule): salt 2.20 %, sugar 1.10 %,
// curing salt 0.25 %, under the United States limit for dry-cured bacon.
func HouseRecipe() Recipe {
	return Recipe{Name: "house dry cure", Salt: 22_000, Sugar: 11_000, CuringSalt: 2_500, Limit: USDryBacon()}
}

// A Jar is the spice picked, as a share of the green weight (skin included: the
// spice lies on the outside). Plain has rate 0.
type Jar struct {
	Code string
	Rate unit.Ratio
}

// A LotShare is the part of a slab's curing salt that comes from one lot. The
// shares of a slab add up to the whole.
type LotShare struct {
	Lot
	Share unit.Ratio
}

// WholeLot is all of the curing salt from one lot.
func WholeLot(l Lot) []LotShare { return []LotShare{{Lot: l, Share: unit.One}} }

// A Ticket is what to weigh out for one slab.
type Ticket struct {
	Slab       Slab
	Recipe     Recipe
	Basis      unit.Weight // the meat under the skin, to a nanogram
	Salt       unit.Weight
	Sugar      unit.Weight
	CuringSalt unit.Weight
	Parts      []Dose // the curing salt by lot; the weights add up to CuringSalt
	Jar        Jar
	Spice      unit.Weight
	Step       unit.Weight // step of the scale the curing salt is to be weighed on
	Verdict    Verdict     // ok or warn; PPM is exact from the rounded grams
}

// A Refusal is the error of a ticket that must not be made.
type Refusal struct{ Verdict Verdict }

func (r *Refusal) Error() string { return r.Verdict.Reason() }

func refuse(format string, a ...any) error { return &Refusal{block(format, a...)} }

// NewTicket weighs out the recipe for the slab. step is the step of the scale the
// curing salt is weighed on, 0.1 g or finer. The error is a *Refusal with the
// reason in words and numbers when the ticket would lie outside the limit, its
// floor included, or when the figures make no ticket.
func NewTicket(s Slab, r Recipe, j Jar, lots []LotShare, step unit.Weight) (Ticket, error) {
	if v, bad := unfit(r.Limit, s, nil); bad {
		return Ticket{}, &Refusal{v}
	}
	if r.Limit.Method != Dry {
		return Ticket{}, refuse("a ticket is for dry cure, and the limit %q of %s is for %s", r.Limit.ID, r.Limit.Max, r.Limit.Method)
	}
	if r.Limit.Basis != IngoingBasis {
		return Ticket{}, refuse("the limit %q is on residual nitrite, %s; no ticket can prove that", r.Limit.ID, r.Limit.Max)
	}
	for _, p := range []struct {
		what string
		r    unit.Ratio
	}{{"salt", r.Salt}, {"sugar", r.Sugar}, {"curing salt", r.CuringSalt}, {"spice", j.Rate}} {
		if p.r < 0 || p.r > unit.One {
			return Ticket{}, refuse("%s cannot be %s of a slab", p.what, p.r)
		}
	}
	if err := stepFine(step); err != nil {
		return Ticket{}, err
	}
	t := Ticket{Slab: s, Recipe: r, Jar: j, Step: step}
	meat := s.bare(r.Limit.SkinRule.Least)
	t.Basis = unit.Weight(meat.round())
	t.Salt = stepped(share(meat, r.Salt), GoodsStep)
	t.Sugar = stepped(share(meat, r.Sugar), GoodsStep)
	t.CuringSalt = stepped(share(meat, r.CuringSalt), CureStep)
	t.Spice = stepped(share(whole(int64(s.Green)), j.Rate), GoodsStep)
	var err error
	if t.Parts, err = parts(t.CuringSalt, lots); err != nil {
		return Ticket{}, err
	}
	t.Verdict = t.judge(t.Parts, step)
	if t.Verdict.Answer == Block {
		return Ticket{}, &Refusal{t.Verdict}
	}
	return t, nil
}

// Weighed judges so much curing salt in all on the ticket's slab, shared over its lots as
// the ticket is, and weighed on a scale of that step.
func (t Ticket) Weighed(all, step unit.Weight) Verdict {
	if t.CuringSalt <= 0 || len(t.Parts) == 0 {
		return block("the ticket asks for %s of curing salt: it is no ticket", t.CuringSalt.G(1))
	}
	doses, left := make([]Dose, len(t.Parts)), all
	for i, p := range t.Parts {
		doses[i] = Dose{p.Lot, left}
		if i < len(t.Parts)-1 {
			doses[i].Weight = p.Weight.MulDiv(int64(all), int64(t.CuringSalt))
		}
		left -= doses[i].Weight
	}
	return t.judge(doses, step)
}

// judge is Judge with the floor as a stop: a slab under it may not be sealed.
func (t Ticket) judge(doses []Dose, step unit.Weight) Verdict {
	l := t.Recipe.Limit
	v := Judge(l, t.Slab, step, doses...)
	if v.Answer != Warn {
		return v
	}
	if l.counts(nitriteOn(t.Slab, l.SkinRule.Least, doses)).cmp(l.Floor.frac()) < 0 {
		v.Answer = Block
	}
	return v
}

func stepFine(step unit.Weight) error {
	if step <= 0 || step > CureStep {
		return refuse("curing salt needs a scale that reads %s or finer, and this one reads %s", CureStep.G(1), showStep(step))
	}
	return nil
}

// showStep writes a scale's step: "1 g", "0.1 g", "0.01 g".
func showStep(step unit.Weight) string {
	for p := range 4 {
		if step.Round(pow10(p)) == step {
			return step.G(p)
		}
	}
	return step.G(4)
}

func pow10(places int) unit.Weight {
	w := unit.Gram
	for range places {
		w /= 10
	}
	return w
}

// stepped rounds exact nanograms to whole steps, halves up.
func stepped(ng frac, step unit.Weight) unit.Weight {
	return unit.Weight(ng.over(int64(step)).round()) * step
}

// parts shares the curing salt over its lots in steps of 0.1 g; rounding carries
// from lot to lot, so the parts add up. A lot that comes to nothing is left out.
func parts(total unit.Weight, lots []LotShare) ([]Dose, error) {
	var sum unit.Ratio
	var out []Dose
	var given unit.Weight
	for _, l := range lots {
		if l.Share < 0 || l.Share > unit.One {
			return nil, refuse("lot %q cannot give %s of the curing salt", l.ID, l.Share)
		}
		if l.Nitrite <= 0 {
			return nil, refuse("lot %q has no nitrite share (%s): read it off the label", l.ID, l.Nitrite)
		}
		sum += l.Share
		upTo := stepped(share(whole(int64(total)), sum), CureStep)
		if upTo > given {
			out = append(out, Dose{Lot: l.Lot, Weight: upTo - given})
			given = upTo
		}
	}
	if sum != unit.One {
		return nil, refuse("the lots give %s of the curing salt, not 100 %%", sum)
	}
	if total <= 0 {
		return nil, refuse("the slab would get %s of curing salt", total.G(1))
	}
	return out, nil
}
