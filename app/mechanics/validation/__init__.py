"""The model beside closed forms and published bench tests."""
