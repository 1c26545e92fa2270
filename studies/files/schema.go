package files

import "encoding/json"

// GeometrySchema returns the JSON Schema (draft 2020-12) of geometry files.
func GeometrySchema() []byte {
	return encodeSchema("A geometry file: the points and members of one axle of a suspension.", geometryKeys)
}

// StudySchema returns the JSON Schema (draft 2020-12) of study files.
func StudySchema() []byte {
	return encodeSchema("A study file: what may move, what is wanted, what must never happen.", studyKeys)
}

func encodeSchema(title string, t keys) []byte {
	text, err := json.MarshalIndent(with(t.object(), schema{
		"$schema": "https://json-schema.org/draft/2020-12/schema",
		"title":   title,
	}), "", "  ")
	if err != nil {
		panic("files: a table of keys that is no JSON: " + err.Error())
	}
	return append(text, '\n')
}
