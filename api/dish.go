package api

import (
	"context"
	"net/http"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/table"
)

type dishesOutput struct {
	Body struct {
		Dishes []dishOut `json:"dishes"`
	}
}

type dishOut struct {
	ID int64 `json:"id"`
	shop.NewDish
}

type saveDishInput struct {
	Body struct {
		ID int64 `json:"id,omitempty" doc:"The dish that has changed; a new one when left out."`
		shop.NewDish
	}
}

type dishInput struct {
	ID int64 `path:"id"`
}

type menuOutput struct {
	Body struct {
		Code   string    `json:"code" example:"D1"`
		Dishes []menuOut `json:"dishes"`
	}
}

type menuOut struct {
	ID     int64    `json:"id"`
	Name   string   `json:"name" example:"bread"`
	Holds  []string `json:"holds"`
	OnMenu bool     `json:"on_menu" doc:"At every dinner of this kind."`
	Served bool     `json:"served" doc:"Wanted at this dinner, whoever sits there."`
	Away   []string `json:"away" doc:"What it holds that somebody at this table marked severe: it stays off the table."`
}

type setMenuInput struct {
	Code string `path:"code" maxLength:"20"`
	Body struct {
		Dishes []int64 `json:"dishes" maxItems:"200" doc:"These and no others."`
	}
}

// tableDish is a dish against the people of a dinner.
type tableDish struct {
	Name   string            `json:"name" example:"bread"`
	Holds  []string          `json:"holds"`
	Away   []string          `json:"away" doc:"Marked severe by somebody: it stays off the whole table."`
	Needs  map[string]string `json:"needs" doc:"For each need of the table: no (holds it), touches (lies on a board with it), ask (only the person can say). Needs it is free of are left out."`
	Cannot int               `json:"cannot" doc:"People with a need it holds or touches."`
	Ask    int               `json:"ask" doc:"Other people to ask: not told, or with a need only words name."`
}

var dishMarks = map[table.Mark]string{table.Holds: "no", table.Touches: "touches", table.Ask: "ask"}

func tableDishes(t *store.TableSheet) []tableDish {
	out := []tableDish{}
	for _, l := range t.Dishes {
		d := tableDish{Name: l.Name, Holds: some(l.Holds), Away: some(l.Away), Needs: map[string]string{}, Cannot: l.Cannot, Ask: l.Unsure}
		for i, m := range l.Marks {
			if word := dishMarks[m]; word != "" {
				d.Needs[t.All.Lines[i].Name] = word
			}
		}
		out = append(out, d)
	}
	return out
}

func (a *Server) dishes(ctx context.Context) (*dishesOutput, error) {
	dishes, _, err := a.Store.Dishes(ctx)
	if err != nil {
		return nil, err
	}
	out := &dishesOutput{}
	out.Body.Dishes = []dishOut{}
	for _, d := range dishes {
		out.Body.Dishes = append(out.Body.Dishes, dishOut{int64(d.ID), shop.NewDish{Name: d.Name, Holds: listOf(d.Holds), Board: d.Board, Kinds: some(d.Kinds)}})
	}
	return out, nil
}

func listOf(commas string) []string {
	if commas == "" {
		return []string{}
	}
	return strings.Split(commas, ",")
}

func (a *Server) menu(ctx context.Context, code string) (*menuOutput, error) {
	m, err := a.Store.Menu(ctx, code)
	if err != nil {
		return nil, err
	}
	out := &menuOutput{}
	out.Body.Code, out.Body.Dishes = m.Code, []menuOut{}
	for _, l := range m.Lines {
		out.Body.Dishes = append(out.Body.Dishes, menuOut{int64(l.ID), l.Name, listOf(l.Holds), l.OnMenu, l.Served, some(l.Away)})
	}
	return out, nil
}

func (a *Server) dishOperations() {
	roles := []shop.Role{shop.Kitchen, shop.Staff}
	operation(a, http.MethodGet, "/dishes", "dishes", "What is cooked for dinners and what it holds", roles,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*dishesOutput, error) { return a.dishes(ctx) })
	operation(a, http.MethodPost, "/dishes", "save-dish", "Write down a new dish, or what has changed of one", roles,
		func(ctx context.Context, by shop.Actor, in *saveDishInput) (*dishesOutput, error) {
			if _, err := a.Store.SaveDish(ctx, by, shop.DishID(in.Body.ID), in.Body.NewDish); err != nil {
				return nil, err
			}
			return a.dishes(ctx)
		})
	operation(a, http.MethodPost, "/dishes/{id}/gone", "drop-dish", "Take a dish off every menu", roles,
		func(ctx context.Context, by shop.Actor, in *dishInput) (*dishesOutput, error) {
			if err := a.Store.DropDish(ctx, by, shop.DishID(in.ID)); err != nil {
				return nil, err
			}
			return a.dishes(ctx)
		})
	operation(a, http.MethodGet, "/dinners/{code}/menu", "dinner-menu", "The dishes a dinner could have, and those it has", roles,
		func(ctx context.Context, _ shop.Actor, in *dinnerInput) (*menuOutput, error) {
			return a.menu(ctx, in.Code)
		})
	operation(a, http.MethodPost, "/dinners/{code}/menu", "set-dinner-menu", "Say which dishes a dinner has", roles,
		func(ctx context.Context, by shop.Actor, in *setMenuInput) (*menuOutput, error) {
			var ids []shop.DishID
			for _, id := range in.Body.Dishes {
				ids = append(ids, shop.DishID(id))
			}
			if err := a.Store.SetMenu(ctx, by, in.Code, ids); err != nil {
				return nil, err
			}
			return a.menu(ctx, in.Code)
		})
}
