package files

import "math"

// ReadGeometry reads the geometry file at path and the table of points it may name. An error is
// always Problems: every mistake, in the order of their places.
func ReadGeometry(read ReadFile, path string) (*Geometry, error) { panic("being written") }

// ReadStudy reads the study file at path, its geometry and its tables. An error is always Problems:
// every mistake in all of them, in the order of their places.
func ReadStudy(read ReadFile, path string) (*Study, error) { panic("being written") }

// Encode returns the geometry as a commented geometry file; reading it gives the same geometry.
func (g *Geometry) Encode() []byte { panic("being written") }

// EncodePoints returns the points as the CSV table that `points:` reads: name,x,y,z.
func (g *Geometry) EncodePoints() []byte { panic("being written") }

// GeometrySchema returns the JSON Schema (draft 2020-12) of geometry files.
func GeometrySchema() []byte { panic("being written") }

// StudySchema returns the JSON Schema (draft 2020-12) of study files.
func StudySchema() []byte { panic("being written") }

func radians(deg float64) float64 { return deg * math.Pi / 180 }
