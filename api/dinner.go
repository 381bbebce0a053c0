package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/table"
	"flitchbook/planner/unit"
)

type dinnerInput struct {
	Code string `path:"code" maxLength:"20" doc:"Code of the class." example:"D1"`
}

type tableOutput struct {
	Body tableSheet
}

type tableSheet struct {
	Code     string          `json:"code" example:"D1"`
	Title    string          `json:"title"`
	StartsAt unit.Instant    `json:"starts_at"`
	State    shop.ClassState `json:"state"`
	Version  int             `json:"version" doc:"Rises with every change noted of the class and its people."`
	Sure     tableCount      `json:"sure" doc:"People surely coming."`
	Maybe    tableCount      `json:"maybe" doc:"People whose seats are being paid for or were offered."`
	KeepAway []string        `json:"keep_away" doc:"Marked severe by somebody: dishes with it stay off the whole table."`
	Dishes   []tableDish     `json:"dishes"`
	People   []tablePerson   `json:"people"`
	Frozen   unit.Instant    `json:"freezes_at" doc:"Changes from this moment on are listed."`
	Changes  []tableChange   `json:"changes"`
	Buy      *tableBuy       `json:"buy,omitempty" doc:"Raw meat for all heads; absent when the dinner is no roast."`
	NotFrom  []string        `json:"not_from" doc:"Lots of the class's own meat, which the dinner must not come from."`
	Caution  string          `json:"caution"`
}

type tableCount struct {
	Heads   int        `json:"heads" doc:"none + list + not_told"`
	None    int        `json:"none"`
	List    int        `json:"list" doc:"People with at least one need."`
	NotTold int        `json:"not_told" doc:"People to ask. Not told is not none."`
	Needs   []needLine `json:"needs"`
	Wine    int        `json:"wine" doc:"Said yes and old enough."`
	NoAge   int        `json:"wine_no_age" doc:"Of these, people who gave no age."`
	Minors  int        `json:"minors"`
	Watch   int        `json:"watching"`
}

type needLine struct {
	Need   string   `json:"need"`
	Words  []string `json:"words"`
	People int      `json:"people"`
	Severe int      `json:"severe"`
}

type tablePerson struct {
	Place   int      `json:"place"`
	Booking string   `json:"booking" example:"K39"`
	Name    string   `json:"name,omitempty"`
	Answer  string   `json:"answer" enum:"none,list,ask"`
	Needs   []string `json:"needs"`
	Wine    bool     `json:"wine"`
	Minor   bool     `json:"minor"`
	Held    bool     `json:"held"`
}

type tableChange struct {
	At      unit.Instant `json:"at"`
	Booking string       `json:"booking,omitempty"`
	Name    string       `json:"name,omitempty"`
	What    string       `json:"what"`
}

type tableBuy struct {
	Roast  string      `json:"roast"`
	Guests int         `json:"guests"`
	Cooked unit.Weight `json:"cooked" doc:"Cooked meat a head."`
	Loss   unit.Ratio  `json:"loss"`
	Trim   unit.Ratio  `json:"trim"`
	Raw    string      `json:"raw" doc:"Raw meat to buy, to a hundredth of a pound." example:"6.11 lb"`
	Basis  string      `json:"basis"`
}

type dinnerMeatInput struct {
	Code    string `path:"code" maxLength:"20" example:"D1"`
	Roast   string `query:"roast" maxLength:"60" doc:"The species' own when left out."`
	Portion string `query:"portion" maxLength:"20" doc:"Cooked meat a head, such as 6 oz; the house's when left out."`
}

type dinnerMeatOutput struct {
	Body struct {
		Code    string         `json:"code"`
		Buy     tableBuy       `json:"buy"`
		Roasts  []string       `json:"roasts"`
		Lots    []dinnerLotOut `json:"lots" doc:"Earlier lots of the roast's species, the newest first."`
		Chosen  string         `json:"chosen,omitempty"`
		NotFrom []string       `json:"not_from"`
	}
}

type dinnerLotOut struct {
	Lot      string      `json:"lot"`
	Day      unit.Day    `json:"day"`
	Cut      string      `json:"cut,omitempty"`
	Weight   unit.Weight `json:"weight" doc:"Of the roast's cut that nobody claims; 0 when not known."`
	Enough   bool        `json:"enough"`
	Proposed bool        `json:"proposed"`
}

type dinnerLotInput struct {
	Code string `path:"code" maxLength:"20"`
	Body struct {
		Lot string `json:"lot" maxLength:"40"`
	}
}

func (a *Server) dinnerMeat(ctx context.Context, code, roast string, portion unit.Weight) (*dinnerMeatOutput, error) {
	m, err := a.Store.DinnerMeat(ctx, code, roast, portion)
	if err != nil {
		return nil, err
	}
	out := &dinnerMeatOutput{}
	b := &out.Body
	b.Code, b.Buy, b.Chosen, b.NotFrom, b.Roasts, b.Lots = m.Dinner.Code, buyOf(m.Buy), m.Chosen, some(m.NotFrom), []string{}, []dinnerLotOut{}
	for _, r := range m.Roasts {
		b.Roasts = append(b.Roasts, r.Name)
	}
	for _, l := range m.Lots {
		b.Lots = append(b.Lots, dinnerLotOut{l.Lot, l.Day, l.Cut, shown(l.Weight), l.Enough, l.Proposed})
	}
	return out, nil
}

func (a *Server) dinnerOperations() {
	operation(a, http.MethodGet, "/dinners/{code}/meat", "dinner-meat", "Raw meat to buy for a dinner, and the lots it may come from", []shop.Role{shop.Kitchen, shop.Staff},
		func(ctx context.Context, _ shop.Actor, in *dinnerMeatInput) (*dinnerMeatOutput, error) {
			var portion unit.Weight
			if in.Portion != "" {
				var w shop.Wrong
				var err error
				portion, err = unit.ParseWeight(in.Portion)
				w.AddErr("portion", err)
				if err := w.Err(); err != nil {
					return nil, err
				}
			}
			return a.dinnerMeat(ctx, in.Code, in.Roast, portion)
		})
	operation(a, http.MethodPost, "/dinners/{code}/lot", "choose-dinner-lot", "Write down which lot a dinner's meat comes from", []shop.Role{shop.Kitchen, shop.Staff},
		func(ctx context.Context, by shop.Actor, in *dinnerLotInput) (*dinnerMeatOutput, error) {
			if err := a.Store.ChooseDinnerLot(ctx, by, in.Code, in.Body.Lot); err != nil {
				return nil, err
			}
			return a.dinnerMeat(ctx, in.Code, "", 0)
		})
	operation(a, http.MethodGet, "/dinners/{code}/table", "table-sheet", "A dinner's heads, food needs, wine and meat", []shop.Role{shop.Kitchen, shop.Staff},
		func(ctx context.Context, _ shop.Actor, in *dinnerInput) (*tableOutput, error) {
			t, err := a.Store.TableSheet(ctx, in.Code)
			if err != nil {
				return nil, err
			}
			return &tableOutput{Body: tableOf(t)}, nil
		})
}

func tableOf(t *store.TableSheet) tableSheet {
	out := tableSheet{Code: t.Code, Title: t.Title, StartsAt: t.StartsAt, State: t.State, Version: t.Version, Frozen: t.FreezesAt,
		Sure: countOf(t.Sure), Maybe: countOf(t.Maybe), KeepAway: some(t.All.Severe()), NotFrom: some(t.NotFrom),
		Dishes: tableDishes(t), People: []tablePerson{}, Changes: []tableChange{}, Caution: table.Caution}
	for _, p := range t.People {
		m := tablePerson{Place: p.Place, Booking: p.Booking, Name: p.Name, Answer: "list", Needs: []string{}, Wine: p.Wine, Minor: p.Minor, Held: p.Held}
		switch {
		case p.Ask:
			m.Answer = "ask"
		case p.None:
			m.Answer = "none"
		}
		for _, n := range p.Needs {
			m.Needs = append(m.Needs, n.String())
		}
		out.People = append(out.People, m)
	}
	for _, c := range t.Changes {
		out.Changes = append(out.Changes, tableChange(c))
	}
	if t.Buy != nil {
		buy := buyOf(t.Buy)
		out.Buy = &buy
	}
	return out
}

func buyOf(b *table.Purchase) tableBuy {
	return tableBuy{Roast: b.Name, Guests: b.Guests, Cooked: b.Cooked, Loss: b.Loss, Trim: b.Trim, Raw: b.Raw.LB(), Basis: b.Basis}
}

func countOf(c table.Count) tableCount {
	out := tableCount{Heads: c.Heads, None: c.None, List: c.List, NotTold: c.NotTold, Needs: []needLine{}, Wine: c.Wine, NoAge: c.NoAge, Minors: c.Minors, Watch: c.Watch}
	for _, l := range c.Lines {
		out.Needs = append(out.Needs, needLine{Need: l.Name, Words: some(l.Words), People: l.People, Severe: l.Severe})
	}
	return out
}

// some is a list that is never null in JSON.
func some(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}

// DinnerLotNote is an ingredient lot that was open on a dinner's day.
type DinnerLotNote struct {
	ID         int64  `json:"id"`
	Ingredient string `json:"ingredient"`
	Code       string `json:"code"`
	Used       bool   `json:"used"`
}

type dinnerLotsOutput struct {
	Body struct {
		Code string          `json:"code"`
		Meat string          `json:"meat,omitempty" doc:"The lot of its meat."`
		Lots []DinnerLotNote `json:"lots"`
	}
}

type dinnerLotsInput struct {
	Code string `path:"code" maxLength:"20"`
	Body struct {
		Lots []int64 `json:"lots" maxItems:"100" doc:"These and no others."`
	}
}

func (a *Server) dinnerLots(ctx context.Context, code string) (*dinnerLotsOutput, error) {
	d, err := a.Store.DinnerLots(ctx, code)
	if err != nil {
		return nil, err
	}
	out := &dinnerLotsOutput{}
	out.Body.Code, out.Body.Meat, out.Body.Lots = d.Code, d.Meat, []DinnerLotNote{}
	for _, l := range d.Lots {
		out.Body.Lots = append(out.Body.Lots, DinnerLotNote{int64(l.ID), l.Ingredient, l.Code, l.Used})
	}
	return out, nil
}

func (a *Server) dinnerLotOperations() {
	roles := []shop.Role{shop.Kitchen, shop.Staff}
	operation(a, http.MethodGet, "/dinners/{code}/lots", "dinner-lots", "Ingredient lots that were open on a dinner's day, and which of them it used", roles,
		func(ctx context.Context, _ shop.Actor, in *dinnerInput) (*dinnerLotsOutput, error) {
			return a.dinnerLots(ctx, in.Code)
		})
	operation(a, http.MethodPost, "/dinners/{code}/lots", "note-dinner-lots", "Note which ingredient lots a dinner used", roles,
		func(ctx context.Context, by shop.Actor, in *dinnerLotsInput) (*dinnerLotsOutput, error) {
			var ids []shop.LotID
			for _, id := range in.Body.Lots {
				ids = append(ids, shop.LotID(id))
			}
			if err := a.Store.NoteDinnerLots(ctx, by, in.Code, ids); err != nil {
				return nil, err
			}
			return a.dinnerLots(ctx, in.Code)
		})
}
