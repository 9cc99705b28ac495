"""The API's documentation as pages: written from the committed OpenAPI document, and from nothing outside."""
