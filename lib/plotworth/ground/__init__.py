"""Ground floor: exceptions, the glossary, the result schema, shipped tables."""
