package optimize

import (
	"embed"

	"trammel/optimize/leastsquares"
)

// Source is the package's own source: rows are promised to be equal between programs built from the same.
//
//go:embed *.go
var Source embed.FS

// LocalSource is the source of package leastsquares, which rows of a refinement depend on too.
var LocalSource = leastsquares.Source
