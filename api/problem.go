package api

import (
	"context"
	"errors"
	"net/http"
	"sort"

	"github.com/danielgtaylor/huma/v2"
	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
)

// Status is the one table from errors to HTTP.
func Status(err error) int {
	if e, ok := shop.AsError(err); ok {
		switch e.Kind {
		case shop.Invalid:
			return http.StatusUnprocessableEntity
		case shop.NotFound:
			return http.StatusNotFound
		case shop.Conflict:
			return http.StatusConflict
		case shop.Forbidden:
			if e.Code == shop.ErrSignIn.Code {
				return http.StatusUnauthorized
			}
			return http.StatusForbidden
		case shop.TooMany:
			return http.StatusTooManyRequests
		case shop.Away:
			return http.StatusServiceUnavailable
		}
	}
	var he *echo.HTTPError
	if errors.As(err, &he) {
		return he.Code
	}
	var se huma.StatusError
	if errors.As(err, &se) {
		return se.GetStatus()
	}
	// Out of time, or cut off by a visitor who went away or a program that stops.
	if errors.Is(err, context.DeadlineExceeded) || errors.Is(err, context.Canceled) {
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// Problem is an RFC 9457 problem document. Code is stable for machines.
type Problem struct {
	Type   string         `json:"type" doc:"A word for the sort of problem." example:"about:blank"`
	Title  string         `json:"title" doc:"The HTTP status in words."`
	Status int            `json:"status"`
	Detail string         `json:"detail" doc:"One sentence in the user's words."`
	Code   string         `json:"code,omitempty" doc:"Stable word for programs." example:"class_full"`
	Errors []ProblemField `json:"errors,omitempty" doc:"Every input that was wrong, at once."`
}

// ProblemField is one wrong input.
type ProblemField struct {
	Field  string `json:"field"`
	Detail string `json:"detail"`
}

// Error and GetStatus let a Problem travel as an error.
func (p *Problem) Error() string { return p.Detail }

// GetStatus is the HTTP status.
func (p *Problem) GetStatus() int { return p.Status }

// ContentType of a problem document.
func (p *Problem) ContentType(string) string { return "application/problem+json" }

// ProblemOf tells an error to an outsider: the text of a shop.Error, and of anything
// else nothing but that it was ours.
func ProblemOf(err error) *Problem {
	var p *Problem
	if errors.As(err, &p) {
		return p
	}
	status := Status(err)
	p = &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status}
	if e, ok := shop.AsError(err); ok && e.Kind != shop.Internal {
		p.Detail, p.Code = e.Text, e.Code
		for f, d := range e.Fields {
			p.Errors = append(p.Errors, ProblemField{Field: f, Detail: d})
		}
		sort.Slice(p.Errors, func(i, j int) bool { return p.Errors[i].Field < p.Errors[j].Field })
		return p
	}
	switch {
	case status >= 500:
		p.Detail = "Something broke on our side. Nothing half-done was kept."
	case status == http.StatusNotFound:
		p.Detail = "There is nothing at this address."
	default:
		p.Detail = http.StatusText(status)
	}
	return p
}

// WriteProblem answers an echo request with a problem document.
func WriteProblem(c echo.Context, err error) error {
	p := ProblemOf(err)
	c.Response().Header().Set(echo.HeaderContentType, "application/problem+json")
	return c.JSON(p.Status, p)
}
