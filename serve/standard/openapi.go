package standard

import "strings"

// API is the definition of the interface of OGC API - Tiles (OpenAPI 3.0).
func (s Service) API() any {
	const set = CollectionsPath + "/{collectionId}/map/tiles"
	paths := map[string]any{}
	for path, about := range map[string]string{
		"/":                                   "the landing page; ask for JSON by f=json or by Accept",
		ConformancePath:                       "standards that are kept",
		APIPath:                               "this document",
		CollectionsPath:                       "the maps",
		CollectionsPath + "/{collectionId}":   "one map",
		set:                                   "sets of tiles of a map",
		set + "/{tileMatrixSetId}":            "a set of tiles",
		MatrixSetsPath:                        "tile matrix sets",
		MatrixSetsPath + "/{tileMatrixSetId}": "a tile matrix set",
	} {
		paths[path] = operation(path, about, mediaJSON)
	}
	tile := set + "/{tileMatrixSetId}/{tileMatrix}/{tileRow}/{tileCol}"
	paths[tile] = operation(tile, "a tile; 204 where the map has none, 404 outside its limits", "image/*")
	return map[string]any{
		"openapi": "3.0.3",
		"info":    map[string]any{"title": s.Title, "version": "1.0.0", "description": "OGC API - Tiles on the hotspot of a job site."},
		"servers": []any{map[string]any{"url": s.Base}},
		"paths":   paths,
	}
}

func operation(path, about, media string) any {
	parameters := []any{}
	for part := range strings.SplitSeq(path, "/") {
		name, is := strings.CutPrefix(part, "{")
		if !is {
			continue
		}
		parameters = append(parameters, map[string]any{
			"name": strings.TrimSuffix(name, "}"), "in": "path", "required": true, "schema": map[string]any{"type": "string"},
		})
	}
	if path == "/" {
		parameters = append(parameters, map[string]any{"name": "f", "in": "query", "schema": map[string]any{"type": "string", "enum": []string{"json", "html"}}})
	}
	answers := map[string]any{
		"200":     map[string]any{"description": about, "content": map[string]any{media: map[string]any{}}},
		"default": map[string]any{"description": "what is wrong, in words", "content": map[string]any{"text/plain": map[string]any{}}},
	}
	if media != mediaJSON {
		answers["204"] = map[string]any{"description": "the map has no tile there"}
	}
	return map[string]any{"get": map[string]any{"summary": about, "parameters": parameters, "responses": answers}}
}
