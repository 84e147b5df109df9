"""What runs inside the reading process alone. Nothing of the server imports these modules."""
