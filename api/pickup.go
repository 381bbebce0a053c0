package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

type pickupOut struct {
	ID      shop.BookingID `json:"id"`
	Booking string         `json:"booking"`
	Name    string         `json:"name"`
	Fetches string         `json:"fetches,omitempty"`
	May     []string       `json:"may" doc:"Names that may fetch."`
	Where   string         `json:"where,omitempty" example:"shelf C2 and C3"`
	Sliced  bool           `json:"sliced"`
	Ready   []ShelfPacket  `json:"ready"`
	ToCome  []string       `json:"to_come"`
}

type pickupsInput struct {
	Q string `query:"q" maxLength:"200" doc:"Piece of a name, tag, end of a phone number or booking number."`
}

type pickupsOutput struct {
	Body struct {
		Parties []pickupOut `json:"parties"`
	}
}

type labelOutput struct {
	Body packetLabelOut
}

type packetLabelOut struct {
	Tag         string      `json:"tag"`
	Name        string      `json:"name" example:"Bacon"`
	Ingredients []string    `json:"ingredients" doc:"Heaviest first, parts in brackets."`
	Contains    []string    `json:"contains" doc:"Allergens; nut, fish and shellfish by kind."`
	Net         unit.Weight `json:"net"`
	PackedOn    unit.Day    `json:"packed_on"`
	UseBy       unit.Day    `json:"use_by"`
	Frozen      bool        `json:"frozen"`
	FrozenOn    unit.Day    `json:"frozen_on,omitempty"`
	ThawDays    int         `json:"thaw_days,omitempty"`
	Handling    string      `json:"handling"`
	Maker       string      `json:"maker"`
	Warning     string      `json:"warning,omitempty"`
}

func (a *Server) pickupOperations() {
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodGet, "/pickups", "find-pickups", "Find a party with packets", staff,
		func(ctx context.Context, _ shop.Actor, in *pickupsInput) (*pickupsOutput, error) {
			found, err := a.Store.FindPickups(ctx, in.Q)
			if err != nil {
				return nil, err
			}
			o := &pickupsOutput{}
			o.Body.Parties = []pickupOut{}
			for _, p := range found {
				o.Body.Parties = append(o.Body.Parties, pickupOut{p.Booking.ID, p.Booking.Ref(), p.Booking.PayerName, p.Booking.Collector, p.May, p.Where(), p.Booking.Sliced, shelfPackets(p.Ready), append([]string{}, p.ToCome...)})
			}
			return o, nil
		})
	operation(a, http.MethodGet, "/slabs/{tag}/label", "read-label", "What stands on a packet's label", staff,
		func(ctx context.Context, _ shop.Actor, in *slabInput) (*labelOutput, error) {
			l, err := a.Store.Packet(ctx, in.Tag)
			if err != nil {
				return nil, err
			}
			o := &labelOutput{packetLabelOut{Tag: l.Tag, Name: l.Name, Ingredients: []string{}, Contains: []string{}, Net: l.Net, PackedOn: l.PackedOn, UseBy: l.UseBy,
				Frozen: l.Frozen, FrozenOn: l.FrozenOn, ThawDays: l.ThawDays, Handling: l.Handling, Maker: l.Shop + ", " + l.Place, Warning: l.Warning}}
			for _, i := range l.Ingredients {
				o.Body.Ingredients = append(o.Body.Ingredients, i.String())
			}
			for _, c := range l.Contains {
				o.Body.Contains = append(o.Body.Contains, c.String())
			}
			return o, nil
		})
}
