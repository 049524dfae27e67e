"""The summary for a customer: wording, pictures, PDF."""
