// Package frontend holds the pages people see: customers on their own phones,
// the bench, the office and the prints.
//
// Every page is a template in templates/<page>.html, one typed struct that embeds
// Layout (or Sheet, for prints) and one line in the registry of the group it
// belongs to (see registry.go). The templates are parsed and escaped when the
// program starts: a broken one stops the program, not a visitor. Pages work
// without a script; the modules in static/js only add to them. Nothing is loaded
// from anywhere else, and no style or script stands inline, so a strict
// Content-Security-Policy ("default-src 'self'") holds.
package frontend

import (
	"embed"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
)

//go:embed templates static
var files embed.FS

// Config is what the frame needs to know of the shop and of a request.
type Config struct {
	ShopName string         // as written on the shop's door
	Lang     string         // language of the pages, a BCP 47 tag; "" is "en"
	Loc      *time.Location // the shop's zone, for every day and hour shown; required
	Demo     bool           // the invented shop with a settable clock: shows the demo bar

	Now   func() time.Time          // the shop's clock; required
	Actor func(echo.Context) Actor  // who is signed in; nil or a zero Actor is a visitor
	Flash func(echo.Context) string // the one-time message left by the last request; nil is none

	Sessions *api.Sessions // who is signed in; nil: nobody can, and nothing is said once
}
