package leastsquares

import "embed"

// Source is the package's own source: rows are promised to be equal between programs built from the same.
//
//go:embed *.go
var Source embed.FS
