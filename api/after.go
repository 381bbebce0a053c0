package api

import (
	"context"
	"maps"
	"net/http"
	"slices"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// afterOut is what a guest has answered, a week after their bacon was fetched.
type afterOut struct {
	Class string `json:"class" doc:"What the first question is about."`
	Given bool   `json:"given" doc:"Has answered."`
	afterAnswers
}

type afterAnswers struct {
	ClassMark  string `json:"class_mark" doc:"very good, fine or not good."`
	ClassWords string `json:"class_words,omitempty" doc:"At most 300 letters."`
	BaconMark  string `json:"bacon_mark" doc:"very good, fine or not good."`
	BaconWords string `json:"bacon_words,omitempty" doc:"At most 300 letters."`
}

type afterOutput struct{ Body afterOut }

type afterInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Body   afterAnswers
}

type lastTimeOutput struct{ Body lastTimeOut }

// lastTimeOut is what a party had last time, for having it again. It names nobody.
type lastTimeOut struct {
	Ref     string         `json:"ref"`
	Day     unit.Day       `json:"day" doc:"Of the class."`
	Slabs   []lastSlabOut  `json:"slabs"`
	Classes []nextClassOut `json:"classes" doc:"Of the same kind, ahead, with room for as many."`
}

type lastSlabOut struct {
	Tag   string      `json:"tag"`
	Jar   string      `json:"jar,omitempty" doc:"Code of the spice, to pick it again."`
	Spice string      `json:"spice,omitempty"`
	Salt  unit.Ratio  `json:"salt,omitempty" doc:"Of what the cure was reckoned on."`
	Green unit.Weight `json:"started_with"`
	Note  string      `json:"note,omitempty" doc:"What they would change."`
}

type nextClassOut struct {
	ClassOut
	Away []string `json:"away" doc:"Codes of spices that are not on its table."`
}

func (a *Server) afterOf(ctx context.Context, secret string) (*afterOutput, *store.GuestPage, error) {
	g, err := a.Store.GuestPage(ctx, secret)
	if err != nil {
		return nil, nil, err
	}
	r, err := a.Store.Review(ctx, g.ID)
	if err != nil {
		return nil, nil, err
	}
	out := &afterOutput{afterOut{Class: g.Class.Title}}
	if r != nil {
		out.Body.Given = true
		out.Body.afterAnswers = afterAnswers{r.ClassMark, r.ClassWords, r.BaconMark, r.BaconWords}
	}
	return out, g, nil
}

func lastTimeFrom(l *store.LastTime) *lastTimeOutput {
	out := &lastTimeOutput{lastTimeOut{Ref: l.Ref, Day: l.Day, Slabs: []lastSlabOut{}, Classes: []nextClassOut{}}}
	for _, s := range l.Slabs {
		out.Body.Slabs = append(out.Body.Slabs, lastSlabOut{s.Tag, s.Code, s.Spice, s.Salt, s.Green, s.Note})
	}
	for _, c := range l.Classes {
		out.Body.Classes = append(out.Body.Classes, nextClassOut{classFrom(c.ClassCard), append([]string{}, slices.Sorted(maps.Keys(c.Away))...)})
	}
	return out
}

// afterOperations are what somebody does once the bacon is eaten, by their private links:
// two questions, the same again.
func (a *Server) afterOperations() {
	operation(a, http.MethodGet, "/guests/{secret}/review", "get-review", "What a guest answered about class and bacon", nil,
		func(ctx context.Context, _ shop.Actor, in *myBookingInput) (*afterOutput, error) {
			out, _, err := a.afterOf(ctx, in.Secret)
			return out, err
		})
	operation(a, http.MethodPut, "/guests/{secret}/review", "save-review", "Answer the two questions, once the bacon is fetched; a second answer takes the place of the first", nil,
		func(ctx context.Context, _ shop.Actor, in *afterInput) (*afterOutput, error) {
			_, g, err := a.afterOf(ctx, in.Secret)
			if err != nil {
				return nil, err
			}
			r := shop.Review{GuestID: g.ID, ClassMark: in.Body.ClassMark, ClassWords: in.Body.ClassWords, BaconMark: in.Body.BaconMark, BaconWords: in.Body.BaconWords}
			if err := a.Store.SaveReview(ctx, shop.Customer("guest by link"), r); err != nil {
				return nil, err
			}
			out, _, err := a.afterOf(ctx, in.Secret)
			return out, err
		})
	operation(a, http.MethodGet, "/my-slab/{secret}/again", "last-time", "What a party had last time, and the classes it could be had in again", nil,
		func(ctx context.Context, _ shop.Actor, in *mySlabInput) (*lastTimeOutput, error) {
			l, err := a.Store.LastTime(ctx, in.Secret)
			if err != nil {
				return nil, err
			}
			return lastTimeFrom(l), nil
		})
}
