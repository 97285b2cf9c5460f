"""Frames in, Plotly figures out. No Streamlit."""
