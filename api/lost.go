package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type loseInput struct {
	Body struct {
		Tags []string `json:"tags" minItems:"1" maxItems:"60" doc:"That are missing." example:"[\"B5-02\",\"B5-03\"]"`
		In   int      `json:"in" minimum:"1" maximum:"500" doc:"Slabs counted into the rinse."`
		Out  int      `json:"out" minimum:"0" maximum:"500" doc:"Slabs counted out of it."`
	}
}

type lostIDOutput struct {
	Body struct {
		ID shop.LostID `json:"id"`
	}
}

type lostPath struct {
	ID shop.LostID `path:"id"`
}

// LostOut is a case of lost tags.
type LostOut struct {
	ID        shop.LostID    `json:"id"`
	In        int            `json:"in"`
	Out       int            `json:"out"`
	OpenedAt  unit.Instant   `json:"opened_at"`
	OpenedBy  string         `json:"opened_by"`
	Round     int            `json:"round" doc:"Of the evidence that counts; initials name it."`
	Initials  []string       `json:"initials"`
	SettledAt unit.Instant   `json:"settled_at,omitempty"`
	Slabs     []LostSlabOut  `json:"slabs"`
	Pieces    []LostPieceOut `json:"pieces"`
	Dumped    []string       `json:"dumped" doc:"Tags that get no piece: they are dumped when the second initials stand."`
}

// LostSlabOut is a slab whose tag is lost.
type LostSlabOut struct {
	Tag   string         `json:"tag"`
	State shop.SlabState `json:"state"`
	Green unit.Weight    `json:"green"`
	Spice string         `json:"spice"`
	Meat  string         `json:"meat" doc:"Animal and side."`
	Piece string         `json:"piece,omitempty" doc:"Letter of the piece that got the tag."`
}

// LostPieceOut is a piece without a tag and what the evidence says.
type LostPieceOut struct {
	Letter  string       `json:"letter"`
	Drained unit.Weight  `json:"drained"`
	Spice   string       `json:"spice,omitempty" doc:"None: it cannot be told."`
	Fits    []LostFitOut `json:"fits"`
	Way     string       `json:"way" enum:"re-tag,draw,dump"`
	Reason  string       `json:"reason"`
}

// LostFitOut is how a piece stands to a slab.
type LostFitOut struct {
	Tag   string `json:"tag"`
	Share string `json:"share" doc:"Drained of green; 94 to 99 % fits." example:"97.2 %"`
	May   bool   `json:"may" doc:"It could be this slab, all evidence taken together."`
}

type lostOutput struct{ Body LostOut }

type lostListOutput struct {
	Body struct {
		Cases []LostOut `json:"cases"`
	}
}

// LostPieceIn is a piece as weighed and seen.
type LostPieceIn struct {
	Letter  string      `json:"letter" minLength:"1" maxLength:"3" example:"X"`
	Drained unit.Weight `json:"drained" example:"4.90 lb"`
	Spice   string      `json:"spice,omitempty" maxLength:"10" doc:"Code of the jar as can be seen; none when it cannot be told." example:"MH"`
}

type lostPiecesInput struct {
	ID   shop.LostID `path:"id"`
	Body struct {
		Pieces []LostPieceIn `json:"pieces" minItems:"1" maxItems:"60"`
	}
}

type lostInitialsInput struct {
	ID   shop.LostID `path:"id"`
	Body struct {
		Round int `json:"round" doc:"Of the evidence that was looked at."`
	}
}

func (a *Server) lostOperations() {
	staff := []shop.Role{shop.Staff}
	show := func(ctx context.Context, id shop.LostID) (*lostOutput, error) {
		v, err := a.Store.LostCase(ctx, id)
		if err != nil {
			return nil, err
		}
		return &lostOutput{lostOut(v)}, nil
	}
	operation(a, http.MethodPost, "/lost-tags", "lose-tags", "Record that slabs came out of the rinse without tags", staff,
		func(ctx context.Context, by shop.Actor, in *loseInput) (*lostIDOutput, error) {
			id, err := a.Store.LoseTags(ctx, by, in.Body.Tags, in.Body.In, in.Body.Out)
			if err != nil {
				return nil, err
			}
			out := &lostIDOutput{}
			out.Body.ID = id
			return out, nil
		})
	operation(a, http.MethodGet, "/lost-tags", "list-lost-tags", "Cases of lost tags, open ones first", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*lostListOutput, error) {
			all, err := a.Store.LostCases(ctx)
			if err != nil {
				return nil, err
			}
			out := &lostListOutput{}
			out.Body.Cases = []LostOut{}
			for i := range all {
				out.Body.Cases = append(out.Body.Cases, lostOut(&all[i]))
			}
			return out, nil
		})
	operation(a, http.MethodGet, "/lost-tags/{id}", "get-lost-tags", "A case of lost tags and what the evidence says", staff,
		func(ctx context.Context, _ shop.Actor, in *lostPath) (*lostOutput, error) { return show(ctx, in.ID) })
	operation(a, http.MethodPost, "/lost-tags/{id}/pieces", "weigh-lost-pieces", "Take the evidence on every piece without a tag", staff,
		func(ctx context.Context, by shop.Actor, in *lostPiecesInput) (*lostOutput, error) {
			var pieces []store.Evidence
			for _, p := range in.Body.Pieces {
				pieces = append(pieces, store.Evidence(p))
			}
			if err := a.Store.FoundPieces(ctx, by, in.ID, pieces); err != nil {
				return nil, err
			}
			return show(ctx, in.ID)
		})
	operation(a, http.MethodPost, "/lost-tags/{id}/initials", "initial-lost-tags", "Put initials under what the evidence says; the second person's settle it", staff,
		func(ctx context.Context, by shop.Actor, in *lostInitialsInput) (*lostOutput, error) {
			if _, err := a.Store.InitialLost(ctx, by, in.ID, in.Body.Round); err != nil {
				return nil, err
			}
			return show(ctx, in.ID)
		})
}

func lostOut(v *store.LostView) LostOut {
	o := LostOut{ID: v.ID, In: v.In, Out: v.Out, OpenedAt: v.OpenedAt, OpenedBy: v.OpenedBy, Round: v.Round, SettledAt: v.ClosedAt,
		Initials: []string{}, Slabs: []LostSlabOut{}, Pieces: []LostPieceOut{}, Dumped: append([]string{}, v.Drop...)}
	for _, who := range []string{v.FirstBy, v.SecondBy} {
		if who != "" {
			o.Initials = append(o.Initials, who)
		}
	}
	for _, m := range v.Slabs {
		o.Slabs = append(o.Slabs, LostSlabOut{m.Tag, m.State, m.Green, m.Spice, m.Animal, m.Settled})
	}
	for _, d := range v.Told {
		p := LostPieceOut{Letter: d.Letter, Drained: d.Drained, Spice: d.Spice, Way: string(d.Way), Reason: d.Reason}
		for _, f := range d.Fits {
			p.Fits = append(p.Fits, LostFitOut{f.Tag, f.Share, f.May})
		}
		o.Pieces = append(o.Pieces, p)
	}
	return o
}
